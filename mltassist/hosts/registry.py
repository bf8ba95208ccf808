"""Which host wrote a document."""

from __future__ import annotations

from mltassist.document.load import Document
from mltassist.hosts.base import Host
from mltassist.hosts.kdenlive import Kdenlive
from mltassist.hosts.kdenlive_old import KdenliveOld
from mltassist.hosts.plain import Plain
from mltassist.hosts.shotcut import Shotcut

HOSTS: tuple[Host, ...] = (Kdenlive(), KdenliveOld(), Shotcut(), Plain())
"""Asked in this order; the last takes whatever the others do not know."""


def host_of(document: Document) -> Host:
    """The host whose layout the document has, judged by its content."""
    return next(host for host in HOSTS if host.owns(document.root))


def endings_of_others(host: Host) -> set[str]:
    """Endings under which other hosts look for their own documents alone; .mlt may hold any of them."""
    return {other.ending for other in HOSTS} - {host.ending, Host.ending}
