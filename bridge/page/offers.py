"""What a page's own scripts ask for: signals that are looked for, and papers that are tried.

None of it changes anything, so none of it needs the key.

Takes: the rigs and the templates.  Gives: routes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from starlette.requests import Request as Asked
from starlette.responses import HTMLResponse, Response
from starlette.routing import BaseRoute, Route

from bridge.page.show import Show
from bridge.page.signals import SignalIndex
from bridge.rig import Rig


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

    @property
    def routes(self) -> list[BaseRoute]:
        """Where it is offered."""
        return [Route("/{device}/signals/list", self._list)]

    async def _list(self, asked: Asked) -> Response:
        """Signals by what is looked for."""
        index, words = self._signals[self._rig_of(asked).id], asked.query_params
        found = index.find(words.get("q", ""), words.get("quality", ""))
        return HTMLResponse(self._show.piece("signals_list.html", {"found": found}))
