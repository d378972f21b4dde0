"""Where a request comes from, as far as it can be believed."""

from __future__ import annotations

import ipaddress
import re

from django.conf import settings

_SYSTEMS = (
    ("iPhone", "iPhone"), ("iPad", "iPad"), ("Android", "Android"), ("Windows", "Windows"), ("Mac OS X", "Mac"),
    ("CrOS", "Chromebook"), ("Linux", "Linux"),
)  # fmt: skip
_BROWSERS = (("Edg", "Edge"), ("Firefox", "Firefox"), ("Chrom", "Chrome"), ("CriOS", "Chrome"), ("Safari", "Safari"))


def address_of(request) -> str:
    """The address of the caller, "" when it is none. Of an IPv6 address its network of 64 bits, which one house has.

    A proxy's word is taken only where a setting says that one stands before the program; then the last address of
    its header counts, which the proxy itself wrote.
    """
    told = request.META.get("REMOTE_ADDR", "")
    if settings.BEHIND_PROXY:
        told = request.META.get("HTTP_X_FORWARDED_FOR", told).rpartition(",")[2]
    try:
        found = ipaddress.ip_address(told.strip())
    except ValueError:
        return ""
    if found.version == 6 and found.ipv4_mapped:
        found = found.ipv4_mapped
    if found.version == 6:
        return str(ipaddress.ip_network((found, 64), strict=False).network_address)
    return str(found)


def device_of(request) -> str:
    """Browser and system in a word each, as the browser states them."""
    agent = request.META.get("HTTP_USER_AGENT", "")
    named = [next((word for mark, word in table if mark in agent), "") for table in (_BROWSERS, _SYSTEMS)]
    if all(named):
        return " on ".join(named)
    return next(filter(None, named), "") or re.sub(r"[^\w ./()-]", "", agent)[:60] or "a program without a name"
