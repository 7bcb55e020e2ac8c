"""cloth made true

Revision: 3c1f0a6de842, after fd5325429758
"""

import sqlalchemy as sa
import sqlmodel
from alembic import op

import server.store.exact

revision = "3c1f0a6de842"
down_revision = "fd5325429758"
branch_labels = None
depends_on = None


def upgrade() -> None:
    _upgrade_cloth()
    pattern = sqlmodel.sql.sqltypes.AutoString(length=500)
    with op.batch_alter_table("yarn", schema=None) as batch_op:
        batch_op.add_column(sa.Column("pattern", pattern, nullable=False, server_default=""))
    with op.batch_alter_table("yarn", schema=None) as batch_op:
        batch_op.alter_column("pattern", existing_type=pattern, server_default=None)

    rule = sqlmodel.sql.sqltypes.AutoString(length=20)
    with op.batch_alter_table("basis", schema=None) as batch_op:
        batch_op.add_column(
            sa.Column("loom_rule", rule, nullable=False, server_default="as assumed")
        )
    with op.batch_alter_table("basis", schema=None) as batch_op:
        batch_op.alter_column("loom_rule", existing_type=rule, server_default=None)

    op.create_table(
        "variant",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("row_version", sa.Integer(), nullable=False),
        sa.Column("owner_id", sa.Integer(), nullable=False),
        sa.Column("changed_at", server.store.exact.Moment(timezone=True), nullable=False),
        sa.Column("construction_id", sa.Integer(), nullable=False),
        sa.Column("name", sqlmodel.sql.sqltypes.AutoString(length=80), nullable=False),
        sa.Column("query", sqlmodel.sql.sqltypes.AutoString(length=2000), nullable=False),
        sa.Column("notes", sqlmodel.sql.sqltypes.AutoString(length=2000), nullable=False),
        sa.Column("promoted_version", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["construction_id"],
            ["construction.id"],
            name=op.f("fk_variant_construction_id_construction"),
        ),
        sa.ForeignKeyConstraint(
            ["owner_id"], ["person.id"], name=op.f("fk_variant_owner_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_variant")),
        sa.UniqueConstraint(
            "construction_id", "name", name=op.f("uq_variant_construction_id_name")
        ),
    )
    with op.batch_alter_table("variant", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_variant_construction_id"), ["construction_id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_variant_owner_id"), ["owner_id"], unique=False)


def downgrade() -> None:
    _downgrade_cloth()
    with op.batch_alter_table("basis", schema=None) as batch_op:
        batch_op.drop_column("loom_rule")

    with op.batch_alter_table("variant", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_variant_owner_id"))
        batch_op.drop_index(batch_op.f("ix_variant_construction_id"))
    op.drop_table("variant")
    with op.batch_alter_table("yarn", schema=None) as batch_op:
        batch_op.drop_column("pattern")


EXACT = server.store.exact.Exact()
NEW_OF_CONSTRUCTION = (
    "greige_width_in",
    "greige_add_on_percent",
    "residual_length_percent",
    "residual_width_percent",
    "wash_mass_change_percent",
)
NEW_WORDS = (
    ("measured_state", sqlmodel.sql.sqltypes.AutoString(length=10), "finished"),
    ("target_state", sqlmodel.sql.sqltypes.AutoString(length=10), "finished"),
    ("calibration", sqlmodel.sql.sqltypes.AutoString(length=300), ""),
)


def _upgrade_cloth() -> None:
    with op.batch_alter_table("construction", schema=None) as batch_op:
        for name in NEW_OF_CONSTRUCTION:
            batch_op.add_column(sa.Column(name, EXACT, nullable=True))
        for name, kind, default in NEW_WORDS:
            batch_op.add_column(sa.Column(name, kind, nullable=False, server_default=default))
    with op.batch_alter_table("construction", schema=None) as batch_op:
        for name, kind, _ in NEW_WORDS:
            batch_op.alter_column(name, existing_type=kind, server_default=None)
    with op.batch_alter_table("slot", schema=None) as batch_op:
        batch_op.alter_column("crimp_percent", existing_type=EXACT, nullable=True)
        batch_op.add_column(sa.Column("take_up_percent", EXACT, nullable=True))
    op.create_table(
        "measured_piece",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("row_version", sa.Integer(), nullable=False),
        sa.Column("owner_id", sa.Integer(), nullable=False),
        sa.Column("changed_at", server.store.exact.Moment(timezone=True), nullable=False),
        sa.Column("construction_id", sa.Integer(), nullable=False),
        sa.Column("label", sqlmodel.sql.sqltypes.AutoString(length=80), nullable=False),
        sa.Column("measured_on", sa.Date(), nullable=False),
        sa.Column("source", sqlmodel.sql.sqltypes.AutoString(length=300), nullable=False),
        sa.Column("state", sqlmodel.sql.sqltypes.AutoString(length=10), nullable=False),
        sa.Column("ounces", EXACT, nullable=True),
        sa.Column("width_in", EXACT, nullable=True),
        sa.Column("epi", EXACT, nullable=True),
        sa.Column("ppi", EXACT, nullable=True),
        sa.Column("warp_crimp_percent", EXACT, nullable=True),
        sa.Column("filling_crimp_percent", EXACT, nullable=True),
        sa.Column("loom_metres", EXACT, nullable=True),
        sa.Column("finished_metres", EXACT, nullable=True),
        sa.Column("left_out", sa.Boolean(), nullable=False),
        sa.Column("notes", sqlmodel.sql.sqltypes.AutoString(length=2000), nullable=False),
        sa.ForeignKeyConstraint(
            ["construction_id"],
            ["construction.id"],
            name=op.f("fk_measured_piece_construction_id_construction"),
        ),
        sa.ForeignKeyConstraint(
            ["owner_id"], ["person.id"], name=op.f("fk_measured_piece_owner_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_measured_piece")),
        sa.UniqueConstraint(
            "construction_id", "label", name=op.f("uq_measured_piece_construction_id_label")
        ),
    )
    with op.batch_alter_table("measured_piece", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_measured_piece_construction_id"), ["construction_id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_measured_piece_owner_id"), ["owner_id"], unique=False)


def _downgrade_cloth() -> None:
    with op.batch_alter_table("measured_piece", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_measured_piece_owner_id"))
        batch_op.drop_index(batch_op.f("ix_measured_piece_construction_id"))
    op.drop_table("measured_piece")
    op.execute("UPDATE slot SET crimp_percent = '0' WHERE crimp_percent IS NULL")
    with op.batch_alter_table("slot", schema=None) as batch_op:
        batch_op.drop_column("take_up_percent")
        batch_op.alter_column("crimp_percent", existing_type=EXACT, nullable=False)
    with op.batch_alter_table("construction", schema=None) as batch_op:
        for name in (*NEW_OF_CONSTRUCTION, *(name for name, _, _ in NEW_WORDS)):
            batch_op.drop_column(name)
