"""What a page's own scripts ask for: signals that are looked for, and papers that are tried.

None of it changes anything, so none of it needs the key.

Takes: the rigs and the templates.  Gives: routes.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping, Sequence

import msgspec
from starlette.requests import Request as Asked
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import BaseRoute, Route

from bridge.control import LONGEST
from bridge.page.bodies import body_of
from bridge.page.papers import Wrong, read_papers
from bridge.page.plausible import Judgement, Trial
from bridge.page.show import Show
from bridge.page.signals import SignalIndex
from bridge.page.words import in_one_piece
from bridge.rig import Rig
from rules.packs.trip import PREFIX
from rules.packs.trip_values import DENSITY


class Typed(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """What was typed: texts by key."""

    values: dict[str, str] = msgspec.field(name="values")


class Offers:
    """What is offered of each rig."""

    def __init__(self, rigs: Mapping[str, Rig], rig_of: Callable[[Asked], Rig], show: Show) -> None:
        """Prepare what does not change.

        Args:
            rigs: all of them.
            rig_of: which one is meant; raises where there is no such device.
            show: the templates.
        """
        self._rig_of = rig_of
        self._show = show
        self._signals = {name: SignalIndex(rig) for name, rig in rigs.items()}
        self._trials = {name: Trial(rig.pack) for name, rig in rigs.items()}
        self._one = asyncio.Semaphore(1)

    @property
    def routes(self) -> list[BaseRoute]:
        """Where it is offered."""
        return [
            Route("/{device}/signals/list", self._list),
            Route("/{device}/papers/try", self._try, methods=["POST"]),
        ]

    async def _list(self, asked: Asked) -> Response:
        """Signals by what is looked for."""
        index, words = self._signals[self._rig_of(asked).id], asked.query_params
        found = index.find(words.get("q", ""), words.get("quality", ""))
        return HTMLResponse(self._show.piece("signals_list.html", {"found": found}))

    async def _try(self, asked: Asked) -> Response:
        """Papers as they were typed, tried; one trial at a time, beside the loop, so that reception goes on."""
        rig = self._rig_of(asked)
        body = await body_of(asked)
        if body is None:
            return _refused(413, f"too long: at most {LONGEST} bytes")
        try:
            typed = msgspec.json.decode(body, type=Typed).values
        except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
            return _refused(400, f"not understood: {error}")
        core = rig.session.core
        held, density = core.papers, core.papers.get(DENSITY)
        values, wrong = read_papers(typed, rig.pack.signals, density if isinstance(density, float) else None)
        trial = self._trials[rig.id]
        async with self._one:
            picture = trial.picture(core.session.state)
            judged = await asyncio.to_thread(trial.judge, {**held, **values}, picture)
        return JSONResponse(self._tried(judged, wrong, len(typed)))

    def _tried(
        self, judged: Sequence[Judgement], wrong: Mapping[str, Wrong], typed: int
    ) -> dict[str, object]:
        """The answer: the list as text, and what concerns single fields."""
        answers = {word: [one for one in judged if one.answer == word] for word in ("no", "unknown", "yes")}
        text = self._show.piece("papers_tried.html", {**answers, "changed": typed, "faults": len(wrong)})
        against: dict[str, list[str]] = {}
        for one in answers["no"]:
            for name in one.about:
                against.setdefault(name.removeprefix(PREFIX), []).append(in_one_piece(f"{one.sentence}."))
        return {
            "text": text,
            "faults": {
                key: {"what": fault.what, "expected": fault.expected, "hint": fault.hint}
                for key, fault in wrong.items()
            },
            "against": against,
        }


def _refused(status: int, text: str) -> Response:
    return JSONResponse({"text": text}, status)
