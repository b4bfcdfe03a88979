"""One gun: how it is described and set up, and when it was last cleaned.

Which cans went through it since is not kept here: a gun's history is long, and a finding looks
back only as far as the last flush.
"""

from msgspec import Struct
from msgspec.structs import replace

from coatledger.events.base import Fact
from coatledger.events.room_gun import GunFlushed, GunSetUp, GunStripCleaned
from coatledger.events.setup import GunDescribed

VERSION = 1


class Gun(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A spray gun. The facts kept are the last of their kind."""

    gun: str
    versions: tuple[GunDescribed, ...] = ()
    set_up: GunSetUp | None = None
    flushed: GunFlushed | None = None
    strip_cleaned: GunStripCleaned | None = None


def initial(gun: str) -> Gun:
    """A gun nobody has described yet."""
    return Gun(gun=gun)


def evolve(gun: Gun, fact: Fact) -> Gun:
    """Fold one more fact in, in order of (occurred, position)."""
    match fact:
        case GunDescribed():
            return replace(gun, versions=(*gun.versions, fact))
        case GunSetUp():
            return replace(gun, set_up=fact)
        case GunFlushed():
            return replace(gun, flushed=fact)
        case GunStripCleaned():
            return replace(gun, strip_cleaned=fact)
        case _:
            return gun
