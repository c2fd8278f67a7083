"""Generates the parts of mock_sim/README.md: network faults, keys and catalogue of scenarios, stock flights.

Takes: the code.  Gives: `PARTS`.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable

from mock_sim.jsbsim.process.__main__ import argument_parser
from mock_sim.jsbsim.process.slips import DEMO, SLIPS
from mock_sim.run import Flight
from mock_sim.scenario import Scenario
from mock_sim.scenario import model as forms
from mock_sim.send.network_faults import NetworkFaults
from tests.documents.forms import keys_of, titled_keys
from tests.documents.markdown import code, table

SCENARIOS = ("departure", "sector", "circuit", "sector_jsbsim")


def _scenario_keys() -> str:
    return titled_keys(
        {
            "A scenario's file": forms.ScenarioFile,
            "A step of a seat": forms.Step,
            "A thing to wait for (`wait`, `ends`)": forms.Wait,
            "A movement (`move`)": forms.Move,
            "On the ground (`drive`)": forms.Drive,
            "In the air (`fly`)": forms.Fly,
            "A slip": forms.Slip,
            "The change that a slip makes (`change`)": forms.SlipChange,
            "An event": forms.ScenarioEvent,
            "A detour of a seat": forms.Detour,
            "The next sector (`then`)": forms.NextSector,
        }
    )


def _catalogue() -> str:
    known_slips, known_events, parts = dict[str, str](), dict[str, str](), []
    for name in SCENARIOS:
        scenario = Flight(name, noise=False).scenario
        parts.append(_scenario(scenario, known_slips, known_events))
        known_slips.update((slip.id, name) for slip in scenario.slips if slip.id not in known_slips)
        known_events.update((event.id, name) for event in scenario.events if event.id not in known_events)
    return "\n".join(parts)


def _scenario(scenario: Scenario, known_slips: dict[str, str], known_events: dict[str, str]) -> str:
    slips = [slip for slip in scenario.slips if slip.id not in known_slips]
    events = [event for event in scenario.events if event.id not in known_events]
    earlier = dict.fromkeys(known_slips[slip.id] for slip in scenario.slips if slip.id in known_slips)
    title = scenario.title.rstrip(".")
    parts = [
        f"### `{scenario.name}`\n",
        f"{title}. Aeroplane `{scenario.aeroplane}`; at most {scenario.longest_s:g} simulated seconds.\n",
    ]
    if earlier:
        parts.append(f"It also has the slips and events of {_listed(earlier)}.\n")
    if slips:
        rows = [(_marked(slip.id, scenario.demo), slip.kind, slip.seat, slip.sentence) for slip in slips]
        parts.append(table(("slip", "kind", "seat", "what the crew does wrong"), rows))
    if events:
        parts.append(table(("event", "what happens"), [(code(e.id), e.sentence) for e in events]))
    parts.append(f"`--slip demo` makes: {_listed(scenario.demo)}.\n")
    return "\n".join(parts)


def _listed(names: Iterable[str]) -> str:
    return ", ".join(code(name) for name in names)


def _marked(name: str, demo: Iterable[str]) -> str:
    return f"`{name}` (demo)" if name in demo else code(name)


def _stock_slips() -> str:
    return "\n".join(
        f"**`{kind}`**\n\n"
        + table(
            ("slip", "kind", "what is done wrong"),
            [(_marked(name, DEMO[kind]), slip.kind, slip.sentence) for name, slip in slips.items()],
        )
        for kind, slips in SLIPS.items()
    )


def _stock_options() -> str:
    rows = [
        (_option(given), _default(given), given.help)
        for given in argument_parser()._actions
        if given.dest != "help"
    ]
    return table(("option", "default", "meaning"), rows)


def _option(given: argparse.Action) -> str:
    return ", ".join(code(word) for word in given.option_strings) or code(given.dest.upper())


def _default(given: argparse.Action) -> str:
    if given.required:
        return "**required**"
    if given.default in (None, []):
        return "none"
    return code(str(given.default).lower() if isinstance(given.default, bool) else f"{given.default:g}")


PARTS: dict[str, Callable[[], str]] = {
    "network faults": lambda: keys_of(NetworkFaults),
    "scenario keys": _scenario_keys,
    "scenario catalogue": _catalogue,
    "stock slips": _stock_slips,
    "stock options": _stock_options,
}
