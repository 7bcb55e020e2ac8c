"""Draws Vega-Lite specifications as SVG or PNG in one separate process.

The renderer takes much memory and is slow at first use, so it lives in a child process that starts
with the first chart and ends when its input closes. This module is both sides: imported, it is
the caller; run with -m, it is the child. Only the child imports the renderer.

A request is one line of JSON. The answer is one line of JSON, {"length": n} or {"error": text},
followed in the first case by n bytes.
"""

from __future__ import annotations

import hashlib
import json
import os
import signal
import subprocess
import sys
import threading
from collections import OrderedDict
from pathlib import Path
from typing import Any, BinaryIO, Literal

from server.core.errors import BadValue, CreelbookError, shorten

Form = Literal["svg", "png"]

TIMEOUT_S = 20.0
CACHED_CHARTS = 256
CACHED_BYTES = 16 * 1024 * 1024  # a large PNG is 200 kB, an SVG a tenth of that
PNG_SCALE = 2.0  # two dots to the pixel: sharp on slides
VEGA_LITE_VERSION = "5.21"
_REPORT = "Report this page: the fault is in the program, not in the figures."
_PACKAGE = Path(__file__).parents[1]
_FONTS = Path("static", "vendor", "dejavu-sans-2.37")


class ChartProcess:
    """Charts drawn on demand; safe to share between threads.

    timeout_s: how long one chart may take, the start of the child included
    """

    def __init__(self, *, timeout_s: float = TIMEOUT_S, cached_charts: int = CACHED_CHARTS) -> None:
        self.timeout_s = timeout_s
        self.cached_charts = cached_charts
        self._child: subprocess.Popen[bytes] | None = None
        self._one_at_a_time = threading.Lock()
        self._drawn: OrderedDict[str, bytes] = OrderedDict()
        self._drawn_lock = threading.Lock()

    def render(self, spec: dict[str, Any], *, form: Form) -> bytes:
        """The chart as SVG or PNG; a chart drawn before is not drawn again."""
        request = _request(spec, form)
        key = hashlib.sha256(request).hexdigest()
        picture = self._remembered(key)
        if picture is not None:
            return picture
        with self._one_at_a_time:
            picture = self._remembered(key)  # another thread may have asked for it meanwhile
            if picture is None:
                picture = self._drawn_by_child(request)
                self._remember(key, picture)
        return picture

    def close(self) -> None:
        """End the child; a later render starts a new one."""
        with self._one_at_a_time:
            self._end_child()

    @property
    def child_pid(self) -> int | None:
        """Process id of the child, None while there is none."""
        child = self._child
        return child.pid if child is not None and child.poll() is None else None

    def _remembered(self, key: str) -> bytes | None:
        with self._drawn_lock:
            if key in self._drawn:
                self._drawn.move_to_end(key)
            return self._drawn.get(key)

    def _remember(self, key: str, picture: bytes) -> None:
        with self._drawn_lock:
            self._drawn[key] = picture
            while len(self._drawn) > self.cached_charts or (
                sum(map(len, self._drawn.values())) > CACHED_BYTES
            ):
                self._drawn.popitem(last=False)

    def _drawn_by_child(self, request: bytes) -> bytes:
        """Ask the child; if it died, ask a new one once."""
        try:
            return self._ask(request)
        except _ChildDied:
            try:
                return self._ask(request)
            except _ChildDied as died:
                raise CreelbookError(
                    "The chart could not be drawn: the drawing process ended unexpectedly.",
                    field="chart",
                    remedy="Read the table beside the chart, and the server log for the cause.",
                ) from died

    def _ask(self, request: bytes) -> bytes:
        """Send one request and read the answer; a child that takes too long is killed."""
        child = self._running_child()
        late = threading.Event()
        timer = threading.Timer(self.timeout_s, _kill, (child, late))
        timer.daemon = True
        timer.start()
        try:
            return _exchange(child, request)
        except (_ChildDied, OSError) as died:
            self._end_child()
            if late.is_set():
                raise self._too_late() from died
            raise _ChildDied from died
        except CreelbookError:
            raise  # the child's own complete answer
        except BaseException:
            self._end_child()  # half an answer must not be taken for the next one
            raise
        finally:
            timer.cancel()

    def _too_late(self) -> CreelbookError:
        return CreelbookError(
            f"The chart was not drawn within {self.timeout_s:g} s and was given up.",
            field="chart",
            value=f"{self.timeout_s:g}",
            unit="s",
            remedy="Read the table beside the chart, or try again when the machine is less busy.",
        )

    def _running_child(self) -> subprocess.Popen[bytes]:
        if self._child is None or self._child.poll() is not None:
            self._end_child()
            self._child = subprocess.Popen(
                [sys.executable, "-m", "server.export.chart_process"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                cwd=_PACKAGE.parent,
            )
        return self._child

    def _end_child(self) -> None:
        child, self._child = self._child, None
        if child is None:
            return
        child.kill()  # it holds nothing that could be lost
        child.wait()
        for pipe in (child.stdin, child.stdout):
            if pipe is not None:
                try:
                    pipe.close()
                except OSError:
                    continue  # half a request was still waiting for the dead child


class _ChildDied(Exception):
    """The child closed its output before the answer was complete."""


def fonts_directory() -> Path:
    """The vendored fonts: inside the installed package, or beside it in a checkout."""
    for root in (_PACKAGE, _PACKAGE.parent):
        if (root / _FONTS).is_dir():
            return root / _FONTS
    raise CreelbookError(
        "The fonts of the charts are not installed.",
        field="fonts",
        value=_FONTS.as_posix(),
        remedy="Install Creelbook again.",
    )


def _request(spec: dict[str, Any], form: Form) -> bytes:
    """The request as canonical JSON: equal charts make equal requests."""
    try:
        text = json.dumps(
            {"form": form, "spec": spec}, sort_keys=True, separators=(",", ":"), allow_nan=False
        )
    except (TypeError, ValueError, RecursionError) as fault:
        raise _refused("its description is not plain data.", fault) from fault
    if _loads_something(spec):
        raise _refused("it names an address to load, and a chart may load nothing.", "url")
    return text.encode() + b"\n"


def _loads_something(part: object) -> bool:
    """Whether a part names an address.

    Needed besides the renderer's own list of allowed addresses, which does not hold for images.
    """
    if isinstance(part, dict):
        return bool({"url", "href"} & part.keys()) or any(map(_loads_something, part.values()))
    return isinstance(part, list | tuple) and any(map(_loads_something, part))


def _refused(reason: str, value: object) -> BadValue:
    return BadValue(
        f"The chart could not be drawn: {reason}", field="chart", value=value, remedy=_REPORT
    )


def _exchange(child: subprocess.Popen[bytes], request: bytes) -> bytes:
    """Write one request, read one answer."""
    if child.stdin is None or child.stdout is None:
        raise _ChildDied
    child.stdin.write(request)
    child.stdin.flush()
    try:
        answer = json.loads(child.stdout.readline())
    except ValueError as cut_off:
        raise _ChildDied from cut_off
    if "error" in answer:
        raise _refused(shorten(answer["error"], 200), answer["error"])
    picture = child.stdout.read(answer["length"])
    if len(picture) < answer["length"]:
        raise _ChildDied
    return picture


def _kill(child: subprocess.Popen[bytes], late: threading.Event) -> None:
    late.set()
    child.kill()


# The child


def _serve(requests: BinaryIO, answers: BinaryIO) -> None:
    """Answer each line until the input closes."""
    import vl_convert

    vl_convert.register_font_directory(str(fonts_directory()))
    for line in requests:
        try:
            picture = _draw(vl_convert, **json.loads(line))
        except Exception as fault:  # whatever it is, the caller gets to know and the child lives on
            _answer(answers, {"error": _cause(fault)})
        else:
            _answer(answers, {"length": len(picture)}, picture)


def _answer(answers: BinaryIO, header: dict[str, Any], picture: bytes = b"") -> None:
    answers.write(json.dumps(header).encode() + b"\n" + picture)
    answers.flush()


def _draw(renderer: Any, spec: dict[str, Any], form: Form) -> bytes:
    """One chart; the renderer may load nothing from anywhere."""
    shared = {"vl_version": VEGA_LITE_VERSION, "allowed_base_urls": []}
    if form == "svg":
        return str(renderer.vegalite_to_svg(spec, **shared)).encode()
    return bytes(renderer.vegalite_to_png(spec, scale=PNG_SCALE, **shared))


def _cause(fault: Exception) -> str:
    """What went wrong: the renderer names itself first, then the cause, then its own stack."""
    lines = [line.strip() for line in str(fault).splitlines() if line.strip()]
    return " ".join([*lines[1:2], *lines[:1]][:1]) or type(fault).__name__


def _main() -> None:
    """Serve on a private copy of standard output, so that a stray print cannot spoil an answer."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    answers = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    _serve(sys.stdin.buffer, answers)


if __name__ == "__main__":
    _main()
