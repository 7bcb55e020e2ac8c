"""The words of a mail that asks a seller to quote again, in the languages of the sellers.

Short, polite sentences; terms of the trade (Ne, OE, FOB, LC) stay as the seller wrote them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Words:
    """One language. {day} stands for a day; questions: field of the offer -> question."""

    name: str
    subject: str
    subject_of_questions: str
    greeting: str
    quote_again: str
    offer_of: str
    valid_until: str
    from_tonnes: str
    also_answer: str
    please_answer: str
    thanks: str
    questions: Mapping[str, str]


_FIELDS = (
    "currency", "price", "price_unit", "tax_inside_percent", "count_system", "count_basis",
    "spinning", "term", "payment", "quoted_regain_percent", "lead_days", "valid_until",
    "break_kind",
)  # fmt: skip


def _questions(*texts: str) -> Mapping[str, str]:
    return dict(zip(_FIELDS, texts, strict=True))


WORDS: Mapping[str, Words] = {
    "en": Words(
        "English",
        "Request for a new quotation",
        "Questions about your offer",
        "Good day,",
        "The prices below are no longer valid, or will not be valid on {day}. Please send us your "
        "current price, valid until {day} at least.",
        "your offer of {day}",
        "valid until {day}",
        "from {tonnes} t",
        "Please also answer these questions:",
        "Thank you for your offers. So that we can compare them, please answer these questions:",
        "Thank you and kind regards",
        _questions(
            "In which currency is the price?",
            "Which figure is the price?",
            "Is the price for one kilogram, one pound or another unit?",
            "Which tax is inside the price, and at how many per cent?",
            "Is the count in Ne, Nm or tex?",
            "Is the count that of the whole yarn (average or total) or of a part of it (base or "
            "sheath)?",
            "How is the yarn spun: ring, compact ring, open-end or air-jet?",
            "What are the delivery term and the place?",
            "What are the payment terms?",
            "At which moisture regain (%) is the weight invoiced?",
            "How many days are there from the order to the shipment?",
            "Until which day is the price valid?",
            "Does the price for a quantity hold for the whole order, or only for the part above "
            "the limit?",
        ),
    ),
    "es": Words(
        "Español",
        "Solicitud de nueva cotización",
        "Preguntas sobre su oferta",
        "Buenos días:",
        "Los precios siguientes ya no son válidos o no lo serán el {day}. Les pedimos su precio "
        "actual, válido al menos hasta el {day}.",
        "su oferta del {day}",
        "válida hasta el {day}",
        "desde {tonnes} t",
        "Les pedimos también que respondan a estas preguntas:",
        "Gracias por sus ofertas. Para poder compararlas, les pedimos que respondan a estas "
        "preguntas:",
        "Muchas gracias y saludos cordiales",
        _questions(
            "¿En qué moneda está el precio?",
            "¿Qué cifra es el precio?",
            "¿El precio es por kilogramo, por libra o por otra unidad?",
            "¿Qué impuesto está incluido en el precio y de cuánto por ciento es?",
            "¿El título del hilo está en Ne, Nm o tex?",
            "¿El título es el del hilo entero (promedio o total) o el de una parte (base o "
            "cubierta)?",
            "¿Cómo se hila: anillos, anillos compacto, open-end o air-jet?",
            "¿Cuáles son la condición y el lugar de entrega?",
            "¿Cuáles son las condiciones de pago?",
            "¿Con qué porcentaje de humedad (regain) se factura el peso?",
            "¿Cuántos días pasan desde el pedido hasta el embarque?",
            "¿Hasta qué día es válido el precio?",
            "¿El precio por cantidad vale para todo el pedido o solo para la parte que pasa del "
            "límite?",
        ),
    ),
    "it": Words(
        "Italiano",
        "Richiesta di nuova quotazione",
        "Domande sulla vostra offerta",
        "Buongiorno,",
        "i prezzi seguenti non sono più validi o non lo saranno il {day}. Vi chiediamo il vostro "
        "prezzo attuale, valido almeno fino al {day}.",
        "la vostra offerta del {day}",
        "valida fino al {day}",
        "da {tonnes} t",
        "Vi chiediamo anche di rispondere a queste domande:",
        "grazie per le vostre offerte. Per poterle confrontare vi chiediamo di rispondere a queste "
        "domande:",
        "Grazie e cordiali saluti",
        _questions(
            "In quale valuta è il prezzo?",
            "Quale cifra è il prezzo?",
            "Il prezzo è per chilogrammo, per libbra o per un'altra unità?",
            "Quale imposta è inclusa nel prezzo e di quanto per cento è?",
            "Il titolo del filato è in Ne, Nm o tex?",
            "Il titolo è quello del filato intero (medio o totale) o di una parte (base o "
            "rivestimento)?",
            "Come è filato: ad anello, ad anello compatto, open-end o air-jet?",
            "Quali sono i termini e il luogo di consegna?",
            "Quali sono le condizioni di pagamento?",
            "Con quale ripresa di umidità (%) è fatturato il peso?",
            "Quanti giorni passano dall'ordine alla spedizione?",
            "Fino a quale giorno è valido il prezzo?",
            "Il prezzo per quantità vale per tutto l'ordine o solo per la parte oltre il limite?",
        ),
    ),
    "pt": Words(
        "Português",
        "Pedido de nova cotação",
        "Perguntas sobre a sua oferta",
        "Bom dia,",
        "Os preços abaixo já não são válidos ou não serão válidos em {day}. Pedimos o seu preço "
        "atual, válido pelo menos até {day}.",
        "a sua oferta de {day}",
        "válida até {day}",
        "a partir de {tonnes} t",
        "Pedimos também que respondam a estas perguntas:",
        "Obrigado pelas suas ofertas. Para podermos compará-las, pedimos que respondam a estas "
        "perguntas:",
        "Muito obrigado. Atenciosamente",
        _questions(
            "Em que moeda está o preço?",
            "Que número é o preço?",
            "O preço é por quilograma, por libra ou por outra unidade?",
            "Que imposto está incluído no preço e de quantos por cento é?",
            "O título do fio está em Ne, Nm ou tex?",
            "O título é o do fio inteiro (médio ou total) ou o de uma parte (base ou cobertura)?",
            "Como é fiado: anel, anel compacto, open-end ou air-jet?",
            "Quais são a condição e o local de entrega?",
            "Quais são as condições de pagamento?",
            "Com que percentagem de umidade (regain) é faturado o peso?",
            "Quantos dias passam do pedido até o embarque?",
            "Até que dia é válido o preço?",
            "O preço por quantidade vale para todo o pedido ou só para a parte acima do limite?",
        ),
    ),
    "tr": Words(
        "Türkçe",
        "Yeni fiyat teklifi talebi",
        "Teklifiniz hakkında sorular",
        "Merhaba,",
        "Aşağıdaki fiyatlar artık geçerli değil veya {day} tarihinde geçerli olmayacak. Lütfen en "
        "az {day} tarihine kadar geçerli güncel fiyatınızı gönderiniz.",
        "{day} tarihli teklifiniz",
        "{day} tarihine kadar geçerli",
        "en az {tonnes} t",
        "Lütfen şu soruları da yanıtlayınız:",
        "Teklifleriniz için teşekkür ederiz. Karşılaştırabilmemiz için lütfen şu soruları "
        "yanıtlayınız:",
        "Teşekkür ederiz, saygılarımızla",
        _questions(
            "Fiyat hangi para birimindedir?",
            "Fiyat hangi rakamdır?",
            "Fiyat hangi birim içindir: kilogram, libre veya başka bir birim?",
            "Fiyata hangi vergi dahildir ve yüzde kaçtır?",
            "İplik numarası hangi sistemdedir: Ne, Nm veya tex?",
            "İplik numarası ipliğin tamamı için mi (ortalama veya toplam), yoksa bir bölümü için "
            "midir (zemin veya kılıf)?",
            "İplik nasıl eğrilir: ring, kompakt ring, open-end veya air-jet?",
            "Teslim şekli ve teslim yeri nedir?",
            "Ödeme koşulları nelerdir?",
            "Ağırlık hangi nem oranıyla (regain, %) faturalanır?",
            "Siparişten sevkiyata kadar kaç gün geçer?",
            "Fiyat hangi güne kadar geçerlidir?",
            "Miktar fiyatı tüm sipariş için mi, yoksa yalnızca sınırı aşan bölüm için mi "
            "geçerlidir?",
        ),
    ),
    "fr": Words(
        "Français",
        "Demande de nouvelle cotation",
        "Questions sur votre offre",
        "Bonjour,",
        "Les prix suivants ne sont plus valables ou ne le seront plus le {day}. Nous vous prions "
        "de nous envoyer votre prix actuel, valable au moins jusqu'au {day}.",
        "votre offre du {day}",
        "valable jusqu'au {day}",
        "à partir de {tonnes} t",
        "Nous vous prions aussi de répondre à ces questions :",
        "Merci pour vos offres. Pour que nous puissions les comparer, nous vous prions de répondre "
        "à ces questions :",
        "Merci et meilleures salutations",
        _questions(
            "En quelle monnaie est le prix ?",
            "Quel chiffre est le prix ?",
            "Le prix est-il par kilogramme, par livre ou par une autre unité ?",
            "Quelle taxe est incluse dans le prix, et à quel pourcentage ?",
            "Le titre du fil est-il en Ne, Nm ou tex ?",
            "Le titre est-il celui du fil entier (moyen ou total) ou d'une partie (base ou "
            "gaine) ?",
            "Comment le fil est-il filé : à anneaux, à anneaux compact, open-end ou air-jet ?",
            "Quels sont la condition et le lieu de livraison ?",
            "Quelles sont les conditions de paiement ?",
            "Avec quel taux de reprise (%) le poids est-il facturé ?",
            "Combien de jours y a-t-il de la commande à l'expédition ?",
            "Jusqu'à quel jour le prix est-il valable ?",
            "Le prix par quantité vaut-il pour toute la commande ou seulement pour la partie "
            "au-delà de la limite ?",
        ),
    ),
}

_COUNTRIES = {
    "es": "Argentina, Bolivia, Chile, Colombia, Costa Rica, Cuba, Dominican Republic, Ecuador, "
    "El Salvador, Guatemala, Honduras, Mexico, México, Nicaragua, Panama, Paraguay, Peru, Perú, "
    "Spain, Uruguay, Venezuela",
    "it": "Italy, San Marino",
    "pt": "Angola, Brazil, Mozambique, Portugal",
    "tr": "Turkey, Turkiye, Türkiye",
    "fr": "Benin, Burkina Faso, Cameroon, Chad, Côte d'Ivoire, France, Ivory Coast, Madagascar, "
    "Mali, Morocco, Senegal, Togo, Tunisia",
}
_LANGUAGE_OF = {
    country.casefold(): language
    for language, countries in _COUNTRIES.items()
    for country in countries.split(", ")
}


def language_of(country: str) -> str:
    """The language a seller of a country is written to; English where none is kept."""
    return _LANGUAGE_OF.get(country.strip().casefold(), "en")
