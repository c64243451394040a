"""The page's server: on the loopback address, for its own page only.

Goes in: a `Bench` and a folder for saved cases. Comes out: a server from Python's
own library that answers `/`, `/try`, `/refine` and `/save`. A request under another
name than the server's own, or sent from another site's page, is refused.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import asdict
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from importlib import resources
from pathlib import Path
from string import Template
from typing import Any

from annulus import __version__
from annulus.case import dump
from annulus.dryfit.knobs import knobs_of, turned
from annulus.dryfit.trial import Bench, SupersededError
from annulus.errors import AnnulusError, InputError
from annulus.present.files import write_text
from annulus.present.report.page import as_data, shipped

LOOPBACK = "127.0.0.1"
MOST_BYTES = 65_536  # of a request
NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _.-]{0,80}\.toml")
POLICY = (
    "default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'unsafe-inline'; connect-src 'self'; "
    "frame-ancestors 'none'; form-action 'none'; base-uri 'none'"
)


class Server(ThreadingHTTPServer):
    """Serves one bench on a port of the loopback address; port 0 takes a free one."""

    daemon_threads = True

    def __init__(self, bench: Bench, folder: Path, port: int = 0):
        self.bench, self.folder = bench, folder
        super().__init__((LOOPBACK, port), Answer)

    @property
    def address(self) -> str:
        return f"http://{LOOPBACK}:{self.server_port}/"

    @property
    def own_names(self) -> tuple[str, ...]:
        """Hosts under which the page may be asked for."""
        return f"{LOOPBACK}:{self.server_port}", f"localhost:{self.server_port}"


class Answer(BaseHTTPRequestHandler):
    """Answers one request."""

    server: Server
    server_version = "annulus"
    sys_version = ""

    def do_GET(self) -> None:
        if not self._is_own(may_write=False):
            return
        if self.path != "/":
            self._send(HTTPStatus.NOT_FOUND, {"fault": "there is nothing here"})
            return
        self._send_bytes(HTTPStatus.OK, page(self.server.bench).encode(), "text/html; charset=utf-8")

    def do_POST(self) -> None:
        work = {"/try": self._try, "/refine": self._refine, "/save": self._save}.get(self.path)
        if not self._is_own(may_write=True):
            return
        if work is None:
            self._send(HTTPStatus.NOT_FOUND, {"fault": "there is nothing here"})
            return
        try:
            self._send(HTTPStatus.OK, work(self._asked()))
        except SupersededError:
            self._send(HTTPStatus.CONFLICT, {"superseded": True})
        except AnnulusError as fault:
            self._send(HTTPStatus.UNPROCESSABLE_ENTITY, {"fault": str(fault)})
        except OSError as fault:
            self._send(HTTPStatus.UNPROCESSABLE_ENTITY, {"fault": f"cannot be written: {fault.strerror or fault}"})

    def _try(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        return self.server.bench.quick(turned(self.server.bench.case, _values(asked)))

    def _refine(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        return self.server.bench.refined(turned(self.server.bench.case, _values(asked)))

    def _save(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        name = asked.get("name")
        if not isinstance(name, str) or not NAME.fullmatch(name):
            raise InputError(f"name {name!r}: must be a plain file name of letters and digits that ends in .toml")
        target = self.server.folder / name
        if target.exists():
            raise InputError(f"{target}: exists already and is left as it is; choose another name")
        write_text(target, dump(turned(self.server.bench.case, _values(asked))))
        return {"saved": str(target)}

    def _asked(self) -> dict[str, Any]:
        length = self.headers.get("Content-Length", "")
        if not length.isdigit() or int(length) > MOST_BYTES:
            raise InputError(f"request: must state a length of no more than {MOST_BYTES} bytes")
        try:
            asked = json.loads(self.rfile.read(int(length)))
        except ValueError as fault:
            raise InputError(f"request: is not JSON ({fault})") from fault
        if not isinstance(asked, dict):
            raise InputError("request: must be an object with values")
        return asked

    def _is_own(self, may_write: bool) -> bool:
        """Whether the request comes under the server's own name and, if it makes work, from its own page."""
        headers, names = self.headers, self.server.own_names
        own = headers.get("Host") in names
        own = own and headers.get("Sec-Fetch-Site", "none") in ("none", "same-origin")
        if may_write:
            own = own and headers.get("Origin") in tuple(f"http://{name}" for name in names)
            own = own and headers.get_content_type() == "application/json"
        if not own:
            self._send(HTTPStatus.FORBIDDEN, {"fault": "this page answers only to itself"})
        return own

    def _send(self, status: HTTPStatus, content: Mapping[str, Any]) -> None:
        self._send_bytes(status, json.dumps(content, allow_nan=False).encode(), "application/json")

    def _send_bytes(self, status: HTTPStatus, content: bytes, kind: str) -> None:
        self.send_response(status)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(content)))
        self.send_header("Content-Security-Policy", POLICY)
        self.send_header("X-Content-Type-Options", "nosniff")
        self.send_header("Cross-Origin-Resource-Policy", "same-origin")
        self.send_header("Referrer-Policy", "no-referrer")
        self.send_header("Cache-Control", "no-store")
        self.end_headers()
        self.wfile.write(content)

    def log_message(self, format: str, *args: Any) -> None:
        """Say nothing: the terminal shows the address and no more."""


def page(bench: Bench) -> str:
    """The page of a bench."""
    viewer = Template(shipped("viewer.html")).substitute(choices="", slider="")
    own = resources.files("annulus.dryfit")
    scripts = [shipped("section.js"), shipped("viewer.js"), own.joinpath("dryfit.js").read_text(encoding="utf-8")]
    knobs = [asdict(knob) for knob in knobs_of(bench.case)]
    return Template(own.joinpath("dryfit.html").read_text(encoding="utf-8")).substitute(
        style=shipped("report.css"),
        viewer=viewer,
        version=__version__,
        data=as_data({"knobs": knobs, "title": bench.case.title, "invented": bench.case.invented}),
        script="\n".join(scripts),
    )


def _values(asked: Mapping[str, Any]) -> Mapping[str, Any]:
    values = asked.get("values", {})
    if not isinstance(values, dict):
        raise InputError("request: values must be an object of keys and values")
    return values
