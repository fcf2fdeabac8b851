"""What every answer says to a browser, whatever it is: that it is to be kept by nobody and shown in nothing else.

What lives here: those headers. What the page's own files may do beyond it is in `adapters/web/files.py`.
"""
from __future__ import annotations

from aiohttp import web
from aiohttp.web_request import BaseRequest

# OWASP Secure Headers and the HSTS preload list ask for these (from memory); two years, as the list has it.
SEALED = {
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "Cache-Control": "no-store",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=()",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
}
BY_TLS_ALONE = "max-age=63072000"
NAME = "sprung"     # and no version of anything, which would say what to try


def seal(request: BaseRequest, response: web.StreamResponse) -> None:
    """Say so, where the answer does not say something else."""
    for name, value in SEALED.items():
        response.headers.setdefault(name, value)
    response.headers["Server"] = NAME
    if by_tls(request):
        response.headers["Strict-Transport-Security"] = BY_TLS_ALONE


async def before_it_goes(request: web.Request, response: web.StreamResponse) -> None:
    """The same, for what is sent by a handler itself, such as a stream."""
    seal(request, response)


def by_tls(request: BaseRequest) -> bool:
    """Did it come by TLS, as far as whoever ended that tells us?"""
    return request.secure or request.headers.get("X-Forwarded-Proto") == "https"
