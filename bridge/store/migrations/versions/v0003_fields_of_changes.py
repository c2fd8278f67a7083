"""Gives the changes of a session their kinds and fields: the seat has a column, and texts contain values alone.

A change of a seat was `Captain: Heron`; its seating, which has the number before it, has the seat and the person:

    seating   4  captain  Heron
    remark    5  seat assigned  "Captain: Heron"    ->    session/seat_assigned  captain  "Heron"

A change of a seat without a seating assigned the person who sat there already; it is removed.

Takes: the tables of revision 0002.  Gives: one more column, and other values.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"

KINDS = {
    "started": "session/started",
    "named": "session/renamed",
    "course": "session/course_changed",
    "seat assigned": "session/seat_assigned",
    "paused": "session/paused",
    "resumed": "session/resumed",
    "ended": "session/ended",
    "muted": "session/voice_muted",
    "unmuted": "session/voice_unmuted",
    "disk nearly full": "recording/disk_nearly_full",
    "recording stopped": "recording/stopped",
    "store unreachable": "store/unreachable",
    "store reachable": "store/reachable",
}


def upgrade() -> None:
    """Add the column, and change the values."""
    op.add_column("remark", sa.Column("seat", sa.Text, nullable=False, server_default=""))
    remark = sa.table(
        "remark", *(sa.column(name) for name in ("session", "number", "change", "seat", "text"))
    )
    seating = sa.table("seating", *(sa.column(name) for name in ("session", "number", "seat", "person")))
    person = sa.table("person", sa.column("id"), sa.column("pseudonym"))
    seated = (seating.c.session == remark.c.session) & (seating.c.number == remark.c.number - 1)
    seat = sa.select(seating.c.seat).where(seated).scalar_subquery()
    name = (
        sa.select(person.c.pseudonym)
        .select_from(seating.join(person, person.c.id == seating.c.person))
        .where(seated)
        .scalar_subquery()
    )
    of_seat = remark.c.change == "seat assigned"
    op.execute(remark.delete().where(of_seat, seat.is_(None)))
    op.execute(remark.update().where(of_seat).values(seat=seat, text=sa.func.coalesce(name, "")))
    op.execute(remark.update().where(remark.c.change == "course", remark.c.text == "none").values(text=""))
    op.execute(
        remark.update()
        .where(remark.c.change != "")
        .values(change=sa.case(KINDS, value=remark.c.change, else_=remark.c.change))
    )


def downgrade() -> None:
    """Refuse: a store is copied before it is changed by hand."""
    raise NotImplementedError
