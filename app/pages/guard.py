"""The guard at the door: only this machine's browser, only its own pages, only so many bytes."""

from collections.abc import Callable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.settings import LARGEST_FIRMWARE_BYTES, LARGEST_FORM_BYTES, LARGEST_GCODE_BYTES, LARGEST_LIST_BYTES

LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})

# The last word of an upload's address says what may come: each limit is stated on its form.
UPLOAD_LIMITS = {
    "bring-in": LARGEST_LIST_BYTES,
    "keep": LARGEST_LIST_BYTES,
    "firmware": LARGEST_FIRMWARE_BYTES,
    "map": LARGEST_FIRMWARE_BYTES,
    "header": LARGEST_FORM_BYTES,
    "gcode": LARGEST_GCODE_BYTES,
}
FORM_OVERHEAD_BYTES = 64 * 1024

POLICY = "; ".join(
    (
        "default-src 'none'",
        "style-src 'self'",
        "script-src 'self'",
        "img-src 'self' data:",
        "font-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)

HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class Guard:
    """Refuses a foreign Host or Origin, counts the bytes of a body as they come, adds the policy headers."""

    def __init__(self, app: ASGIApp, too_large: Callable[[int], Exception]) -> None:
        self.app = app
        self.too_large = too_large

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let one request through, or answer it here."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refusal = _refusal(headers)
        if refusal:
            await PlainTextResponse(refusal, status_code=403, headers=HEADERS)(scope, receive, send)
            return
        limit = largest_body(scope["path"])
        told = headers.get("content-length", "")
        is_told_too_large = told.isdecimal() and int(told[:20]) > limit + FORM_OVERHEAD_BYTES
        seen = 0

        async def counted() -> Message:
            nonlocal seen
            if is_told_too_large:
                raise self.too_large(limit)
            message = await receive()
            seen += len(message.get("body", b""))
            if seen > limit + FORM_OVERHEAD_BYTES:
                raise self.too_large(limit)
            return message

        async def with_policy(message: Message) -> None:
            if message["type"] == "http.response.start":
                answer = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    answer[name] = value
                if answer.get("content-type", "").startswith("text/html"):
                    answer["Cache-Control"] = "no-store"
            await send(message)

        await self.app(scope, counted, with_policy)


def largest_body(path: str) -> int:
    """How many bytes a request to this address may carry."""
    return UPLOAD_LIMITS.get(path.rstrip("/").rpartition("/")[2], LARGEST_FORM_BYTES)


def _refusal(headers: Headers) -> str | None:
    host = headers.get("host", "")
    if _host_name(host) not in LOOPBACK:
        return f"Coaming answers only this machine; it was asked for as {host[:100]!r}."
    origin = headers.get("origin")
    if origin is not None and origin.lower() != f"http://{host}".lower():
        return f"Coaming takes requests only from its own sheets; this one came from {origin[:100]!r}."
    return None


def _host_name(host: str) -> str | None:
    try:
        return urlsplit(f"//{host}").hostname
    except ValueError:  # no name at all, as "[::1"
        return None
