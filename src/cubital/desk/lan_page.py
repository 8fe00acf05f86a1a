"""The plain page where a tablet fetches the authority's certificate, and how to trust it."""

from __future__ import annotations

from html import escape
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread

from cubital.desk.lan import Served

CERTIFICATE_PATH = "/cubital-authority.crt"
STEPS = {
    "Android": (
        "Download it. Settings, Security, More security settings, Encryption and credentials,"
        " Install a certificate, CA certificate; choose the file."
    ),
    "iPad, iPhone": (
        "Open it with the browser that came with it and allow the profile. Settings, Profile"
        " downloaded, Install. Then Settings, General, About, Certificate trust settings: switch"
        " it on."
    ),
    "Windows": (
        "Open it, Install certificate, Local machine, Place all certificates in: Trusted root"
        " certification authorities."
    ),
    "macOS": "Open it in the keychain, then Trust: Always trust.",
    "Linux": "Import it in the browser's own settings under Certificates, Authorities.",
}
"""How a device comes to trust it, in the words of its own settings; they change with the years."""
STYLE = (
    "body{font:1.1rem/1.5 system-ui,sans-serif;max-width:44rem;margin:2rem auto;padding:0 1rem;"
    "color:#101b21;background:#f3f2ed}a.get{display:inline-block;padding:1rem 1.6rem;"
    "background:#0c3340;color:#fff;border-radius:10px;font-weight:700;text-decoration:none}"
    "code{overflow-wrap:anywhere;font-size:1rem}dt{font-weight:700;margin-top:.8rem}dd{margin:0}"
)


def trust_page(served: Served, addresses: tuple[str, ...]) -> str:
    """The page as HTML; it says nothing about anybody."""
    steps = "".join(f"<dt>{escape(name)}</dt><dd>{escape(how)}</dd>" for name, how in STEPS.items())
    links = "".join(f'<li><a href="{escape(a)}">{escape(a)}</a></li>' for a in addresses)
    return (
        '<!doctype html><html lang="en-GB"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f"<title>Trust this desk · cubital</title><style>{STYLE}</style></head><body><main>"
        "<h1>Trust this desk</h1>"
        "<p>Once on each tablet. Then the chair works with the network cut, too.</p>"
        f'<p><a class="get" href="{CERTIFICATE_PATH}">Get the certificate</a></p>'
        "<p>Before you trust it, compare this fingerprint (SHA-256) with the one that the desk's"
        f" own screen shows:</p><p><code>{escape(served.fingerprint)}</code></p>"
        f"<dl>{steps}</dl><h2>Then open the desk</h2><ul>{links}</ul>"
        "<p>The certificate can only vouch for this machine and for private addresses.</p>"
        "</main></body></html>"
    )


def open_trust_page(
    host: str, port: int, served: Served, addresses: tuple[str, ...]
) -> ThreadingHTTPServer:
    """
    Serve the page and the certificate over plain HTTP, from a thread of its own.

    Raises:
        OSError: the port is taken.
    """
    page = trust_page(served, addresses).encode()
    certificate = served.authority.read_bytes()

    class Page(BaseHTTPRequestHandler):
        """Two addresses, read only."""

        timeout = 10
        server_version = "cubital"
        sys_version = ""

        def do_GET(self) -> None:
            """Give the page, or the certificate."""
            if self.path == "/":
                self.give(page, "text/html; charset=utf-8")
            elif self.path == CERTIFICATE_PATH:
                self.give(certificate, "application/x-x509-ca-cert")
            else:
                self.send_error(HTTPStatus.NOT_FOUND)

        def give(self, data: bytes, kind: str) -> None:
            """One answer."""
            self.send_response(HTTPStatus.OK)
            self.send_header("Content-Type", kind)
            self.send_header("Content-Length", str(len(data)))
            self.send_header("X-Content-Type-Options", "nosniff")
            self.send_header("Cache-Control", "no-store")
            self.end_headers()
            self.wfile.write(data)

        def log_message(self, *arguments: object) -> None:
            """Keep no log."""

    server = ThreadingHTTPServer((host, port), Page)
    server.daemon_threads = True
    Thread(target=server.serve_forever, name="trust page", daemon=True).start()
    return server
