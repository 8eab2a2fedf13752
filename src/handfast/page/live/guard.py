"""Who may ask: this machine's browser, for this page. Everyone else is refused before anything is read.

A page of another site can make a browser send requests here, under a name that resolves to this machine
(DNS rebinding) or across origins: so Host and Origin are checked. With --host others on the network reach
the port: then a token is asked for, which a cookie carries on.
"""

from __future__ import annotations

import hmac
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qs

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "connect-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "x-frame-options": "DENY",
    "cache-control": "no-store",
}
COOKIE = "handfast_token"
MOST_BODY = 65_536


@dataclass(frozen=True, slots=True)
class Guard:
    """hosts: values of the Host header that are answered, in lower case; token: asked for unless ""."""

    hosts: frozenset[str]
    token: str = ""

    def refusal(self, method: str, headers: dict[str, str], query: str) -> tuple[int, str] | None:
        """Status and words, or None for a request that may go on. headers: names in lower case."""
        host = headers.get("host", "").lower()
        if host not in self.hosts:
            return (
                421,
                f"this page is not served as {host or 'nobody'}; it is as: {', '.join(sorted(self.hosts))}",
            )
        origin = headers.get("origin")
        if origin is not None and origin.lower() not in {f"http://{h}" for h in self.hosts}:
            return 403, "asked for by another site"
        if method not in ("GET", "HEAD") and origin is None:
            return 403, "expected an Origin header, found none"
        if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return 403, "asked for by another site"
        if method == "POST" and headers.get("content-type", "").split(";")[0].strip() != "application/json":
            return 415, "expected application/json"
        if method == "POST" and not headers.get("content-length", "0").isdigit():
            return 400, "expected a length in digits"
        if method == "POST" and int(headers.get("content-length", "0")) > MOST_BODY:
            return 413, f"expected at most {MOST_BODY} bytes"
        return (
            None
            if self._known(headers, query)
            else (401, "expected the token that was printed with the address")
        )

    def token_in(self, query: str) -> bool:
        """Whether the address itself carries the right token."""
        given = parse_qs(query).get("token", [""])[0]
        return bool(self.token) and hmac.compare_digest(given.encode(), self.token.encode())

    def _known(self, headers: dict[str, str], query: str) -> bool:
        if not self.token or self.token_in(query):
            return True
        try:
            cookie = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
        except CookieError:
            return False
        return cookie is not None and hmac.compare_digest(cookie.value.encode(), self.token.encode())
