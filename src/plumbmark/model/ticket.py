"""The ticket: what was asked for and by when, what each owner answered, what was seen on site, photographs.

A time or a flag that is None was not written down: that is neither "no" nor "never".
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from plumbmark.model.reading import Place


class OwnerSaid(StrEnum):
    """What an owner answered to a ticket; None in an `OwnerAnswer` stands for no answer yet."""

    MARKED = "marked"
    NO_CONFLICT = "no conflict"
    NOT_LOCATED = "could not locate"
    NO_ACCESS = "no access"
    MORE_TIME = "more time agreed"
    STANDBY = "standby"
    NOT_OURS = "not ours"


class ThingKind(StrEnum):
    """What was seen above ground."""

    METER = "meter"
    VALVE = "valve"
    PEDESTAL = "pedestal"
    PATCH = "patch"
    CURB_STOP = "curb-stop"
    HYDRANT = "hydrant"
    TRANSFORMER = "transformer"
    POLE = "pole"
    MANHOLE = "manhole"
    CABINET = "cabinet"
    PAINT = "paint"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Ticket:
    """The request that a job answers, the table ``[ticket]`` of `job.toml`.

    `longitude_deg` and `latitude_deg` (WGS 84) are of the phone: they place the job, not its readings.
    """

    number: str = ""
    place: str = ""
    work: str = ""
    caller: str = ""
    white_lined: bool | None = None
    emergency: bool | None = None
    received_at: datetime | None = None
    may_dig_from: datetime | None = None
    due_at: datetime | None = None
    expires_at: datetime | None = None
    longitude_deg: float | None = None
    latitude_deg: float | None = None

    def has_run_out(self, now: datetime) -> bool:
        """Whether it is known to have run out at `now`."""
        return self.expires_at is not None and now >= self.expires_at

    def is_early(self, now: datetime) -> bool:
        """Whether nobody may dig yet at `now`, as far as is known."""
        return self.may_dig_from is not None and now < self.may_dig_from


@dataclass(frozen=True, slots=True)
class OwnerAnswer:
    """What one owner answered, a row of `owners.csv`; an owner with two utilities has a row for each.

    `utility` is the word of a `Utility`. `until_at` is when the answer runs out or what was agreed is due.
    """

    owner: str
    row: int
    utility: str | None = None
    answer: OwnerSaid | None = None
    why: str = ""
    answered_at: datetime | None = None
    by: str = ""
    until_at: datetime | None = None
    note: str = ""

    def has_run_out(self, now: datetime) -> bool:
        """Whether `until_at` has passed at `now`."""
        return self.until_at is not None and now >= self.until_at

    def is_open(self, now: datetime | None = None) -> bool:
        """Whether something is still to come from this owner, at `now` where that is given.

        Examples
        --------
        >>> OwnerAnswer("North Power", 2).is_open()
        True
        >>> OwnerAnswer("North Power", 2, answer=OwnerSaid.MARKED).is_open()
        False
        >>> OwnerAnswer("North Power", 2, answer=OwnerSaid.NOT_LOCATED).is_open()
        True
        """
        if self.answer not in (OwnerSaid.MARKED, OwnerSaid.NO_CONFLICT):
            return True
        return now is not None and self.has_run_out(now)


@dataclass(frozen=True, slots=True)
class Thing:
    """Something seen above ground, a row of `things.csv`; without a place it still tells that it is there."""

    id: str
    row: int
    place: Place | None = None
    kind: ThingKind | None = None
    colour: str | None = None
    seen_at: datetime | None = None
    by: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class PhotoFact:
    """What a photograph shows, a row of `photos.csv`.

    `photo` is the name of a file in the folder `photos`; `bearing_deg` the way the camera looked.
    """

    photo: str
    row: int
    place: Place | None = None
    mark: str | None = None
    thing: str | None = None
    bearing_deg: float | None = None
    taken_at: datetime | None = None
    by: str = ""
    note: str = ""
