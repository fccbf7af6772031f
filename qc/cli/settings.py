"""The shop's settings, each checked before it is kept."""

from collections.abc import Callable, Mapping
from typing import Any, Final
from zoneinfo import ZoneInfo

import click

from qc.cli.options import given, shared, zone
from qc.errors import InputError
from qc.notify import post

UNITS: Final = ("metric", "inch")
DATE_ORDERS: Final = ("day_first", "month_first")  # the year first is always read


def _zone(text: str) -> str:
    try:
        return ZoneInfo(text).key
    except (KeyError, ValueError, OSError) as unknown:
        raise InputError(
            f"{text!r} is no time zone: write one like Europe/Berlin or America/Chicago"
        ) from unknown


def _one_of(name: str, allowed: tuple[str, ...]) -> Callable[[str], str]:
    def check(text: str) -> str:
        if text.lower() not in allowed:
            raise InputError(f"{name} is one of {', '.join(allowed)}, not {text!r}")
        return text.lower()

    return check


def _number(text: str, what: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = float("nan")
    if not 0 <= value < 1e9:
        raise InputError(f"{what} is a number from 0 on, not {text!r}")
    return value


def _false_alarms(text: str) -> str:
    value = _number(text, "false_alarms_a_month")
    if value == 0:
        raise InputError(
            "false_alarms_a_month of 0 would never raise an alarm: write how many you accept, like 0.5"
        )
    return repr(value)


def _wanted(text: str) -> str:
    value = _number(text, "wanted_index")
    if not 0.1 <= value <= 10:
        raise InputError(f"wanted_index is a number from 0.1 to 10, like 1.33, not {text!r}")
    return repr(value)


def _costs(text: str) -> str:
    parts = [part.partition("=") for part in text.split(";") if part.strip()]
    for name, sign, amount in parts:
        if not sign or not name.strip():
            raise InputError("costs are written as what=amount; what=amount, like stones_changed=85; bore=12")
        _number(amount.strip(), f"the cost of {name.strip()}")
    return "; ".join(f"{name.strip()}={amount.strip()}" for name, _, amount in parts)


SETTINGS: Final[Mapping[str, tuple[str, Callable[[str], str]]]] = {
    "zone": ("time zone of the shop's clocks", _zone),
    "units": ("metric or inch: how numbers are shown", _one_of("units", UNITS)),
    "date_order": ("day_first or month_first: how 03/04/2026 is read", _one_of("date_order", DATE_ORDERS)),
    "costs": ("what=amount; ...: what a change or a bore costs", _costs),
    "false_alarms_a_month": ("false matters a month the shop accepts", _false_alarms),
    "wanted_index": ("Ppk that is wanted where a series has no choice of its own", _wanted),
    **post.SETTINGS,
}


@click.group()
def shop() -> None:
    """The shop's settings: zone, units, date_order, costs, false_alarms_a_month, wanted_index, mail_..."""


@shop.command("set", context_settings={"ignore_unknown_options": True})  # a value may begin with a minus
@click.argument("name")
@click.argument("value")
@shared
def shop_set(name: str, value: str, **options: Any) -> None:
    """Set one; an empty VALUE takes it back."""
    if name not in SETTINGS:
        raise InputError(f"{name!r} is no setting: {', '.join(SETTINGS)}")
    kept = SETTINGS[name][1](value.strip()) if value.strip() else None
    command = given(options)
    with command.opened(create=True) as store:
        with store.write(by=command.by, command="shop set") as write:
            write.set(name, kept)
        revision = store.revision()
    if not command.told_as_json({"setting": name, "value": kept, "revision": revision}):
        click.echo(f"{name}: {kept if kept is not None else 'not set'}, revision {revision}")


@shop.command("list")
@shared
def shop_list(**options: Any) -> None:
    """Every setting and its value."""
    command = given(options)
    with command.opened() as store:
        settings, here, revision = store.settings(), zone(store), store.revision()
    head = {
        "answer": "settings",
        "version": 1,
        "revision": revision,
        "asked": {},
        "zone": here,
        "cautions": [],
    }
    rows = [{"name": name, "value": settings.get(name)} for name in SETTINGS]
    if command.told_as_json({**head, "settings": rows}):
        return
    from qc.cli.printed import table

    click.echo(f"Settings at revision {revision}; the zone in force is {here}.")
    table(
        ("setting", "value", "what it is"),
        [(name, settings.get(name) or "-", text) for name, (text, _) in SETTINGS.items()],
        left=3,
    )


COMMANDS = (shop,)
