"""Sending the facts of a day log, a few hundred at a time, and what the service says of each.

Every fact carries its id, so a batch that was sent twice, because its answer was lost, is recorded
once.
"""

import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import NamedTuple

import msgspec
from coatledger.computations.cautions import Caution
from coatledger.events.catalogue import AnyEvent
from coatledger.findings.finding import Finding
from coatledger.refusal import Fault

from coatledger_api.commands.reach import Failed, Refusal, Service
from coatledger_api.problems import Problem

BATCH_FACTS = 100  # so many facts the service answers with their findings at once
BATCH_BYTES = 500_000
TRIES = 5
BUSY = (429, 503)
ENCODER = msgspec.json.Encoder()
LENIENT = "handling=lenient"


class Outcome(msgspec.Struct, frozen=True):
    """What the service says of one fact."""

    position: int | None = None
    repeated: bool = False
    disputes: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    problem: Problem | None = None


class Recording(msgspec.Struct, frozen=True):
    """What the service says of a batch."""

    position: int
    events: tuple[Outcome, ...]
    cautions: tuple[Caution, ...] = ()
    deference: str | None = None


class Answered(NamedTuple):
    """A line that was sent, and what the service says of it."""

    number: int
    outcome: Outcome


class Sent(NamedTuple):
    """Every line that was answered, the cautions of all these acts, and why the sending ended
    early, if it did."""

    answered: tuple[Answered, ...]
    position: int | None
    broken: Failed | None = None
    cautions: tuple[str, ...] = ()

    def refused(self) -> Iterator[tuple[int, tuple[Fault, ...]]]:
        """Yield each line that was refused, with its reasons."""
        for number, outcome in self.answered:
            if outcome.problem is not None:
                yield number, _faults(outcome.problem)


def send(service: Service, told: Sequence[tuple[int, AnyEvent]], pause_s: float = 1.0) -> Sent:
    """Send facts in their order; stop at the first batch that gets no answer."""
    answered: list[Answered] = []
    position = None
    cautions: dict[str, None] = {}
    with _progress(len(told)) as forward:
        for batch in batches(told):
            try:
                recording = _batch(service, [fact for _, fact in batch], pause_s)
            except Failed as failed:
                return Sent(tuple(answered), position, failed, tuple(cautions))
            position = recording.position
            cautions.update(dict.fromkeys(f"{c.text} ({c.source})" for c in recording.cautions))
            for (number, _), outcome in zip(batch, recording.events, strict=True):
                answered.append(Answered(number, outcome))
            forward(len(batch))
    return Sent(tuple(answered), position, cautions=tuple(cautions))


def batches(
    told: Sequence[tuple[int, AnyEvent]],
) -> Iterator[list[tuple[int, AnyEvent]]]:
    """Cut facts into batches that a service takes, by number and by size."""
    batch: list[tuple[int, AnyEvent]] = []
    size = 0
    for one in told:
        more = len(ENCODER.encode(one[1]))
        if batch and (len(batch) == BATCH_FACTS or size + more > BATCH_BYTES):
            yield batch
            batch, size = [], 0
        batch.append(one)
        size += more
    if batch:
        yield batch


def _batch(service: Service, facts: list[AnyEvent], pause_s: float) -> Recording:
    body = ENCODER.encode({"type": "batch", "events": facts})
    for tried in range(TRIES):
        try:
            answer = service.post("/v1/events", body, Prefer=LENIENT)
        except Refusal as refusal:
            if refusal.status not in BUSY or tried == TRIES - 1:
                raise
            time.sleep(pause_s)
            continue
        return _read(answer, len(facts))
    raise AssertionError("the last try answers or raises")


def _read(answer: bytes, count: int) -> Recording:
    try:
        recording = msgspec.json.decode(answer, type=Recording)
    except msgspec.DecodeError as fault:
        raise Failed(f"The service's answer is not understood: {fault}") from None
    if len(recording.events) != count:
        raise Failed(f"The service answered {len(recording.events)} facts of {count}")
    return recording


def _faults(problem: Problem) -> tuple[Fault, ...]:
    if not problem.faults:
        return (Fault(rule=problem.type.rpartition("/")[2], pointer="", detail=problem.detail),)
    return tuple(
        Fault(rule=fault.rule, pointer=fault.pointer or "", detail=fault.detail)
        for fault in problem.faults
    )


@contextmanager
def _progress(total: int) -> Iterator[Callable[[int], None]]:
    """Show how far the sending is, where somebody looks on."""
    if not sys.stderr.isatty() or total == 0:
        yield lambda _: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("Recording", total=total)
        yield lambda count: bar.advance(task, count)
