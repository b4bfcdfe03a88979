"""What to mind at a line of the day plan, in words; the table and the command line say the same."""

from datetime import datetime, tzinfo

from coatledger.answers.day_plan.answer import Finish, Line


def notes_of(line: Line, zone: tzinfo | None = None) -> list[str]:
    """Say what to mind at a line, in the order in which it is done; `zone` if its times have not
    the shop's yet."""
    found = [*line.notes]
    if line.try_first:
        found.append("try the film first: likely ready, not surely")
    if line.awaited:
        found.append("once the joinery has brought them")
    if line.finish is not None and (line.act == "set_up" or line.gun is None):
        found += _prepared(line.finish, zone)
    return found


def clock(at: datetime, near: datetime) -> str:
    """Say a time beside another one: without its day where that is the same."""
    return f"{at:%H:%M}" if at.date() == near.date() else f"{at:%a %H:%M}"


def _prepared(finish: Finish, zone: tzinfo | None) -> list[str]:
    """Say what is done to a can before it is used."""
    found = []
    if finish.mix:
        parts = ", ".join(
            f"{part.litres:.2f} L {part.product}{f' ({part.can})' if part.can else ''}"
            for part in finish.mix
        )
        until = f", to be used by {_clock(finish.use_until, zone)}" if finish.use_until else ""
        more = f", for {finish.mix_for_lines} lines more" if finish.mix_for_lines else ""
        found.append(f"mix {parts}{more}{until}")
    if finish.open_first:
        found.append(f"open {finish.can}")
    if finish.stir_first:
        found.append(f"stir {finish.can}")
    if finish.strain_um is not None:
        found.append(f"strain it through {finish.strain_um:g} µm")
    if finish.also:
        found.append(f"then take {' and '.join(finish.also)}")
    return found


def _clock(at: datetime, zone: tzinfo | None) -> str:
    return f"{at.astimezone(zone) if zone else at:%H:%M}"
