"""What is kept of a followed promise is read again, also where an earlier program wrote it."""

import msgspec
import pytest
from bench import Bench, on_day
from coatledger.answers.promises.danger import Danger
from coatledger.answers.promises.watched import Watched, name_of
from promise_follower import Follower, promised
from promise_shop import shop


def kept(bench: Bench) -> Watched:
    """A promise that is in danger."""
    follower = Follower(promised(bench))
    follower.bench.at("16 16:00")
    follower.look()
    return follower.states["o1"]


def test_a_promise_in_danger_is_read_again_as_it_was_kept() -> None:
    state = kept(shop())
    assert isinstance(state.danger, Danger)
    assert state.weighed == state.danger.chance
    assert msgspec.json.decode(msgspec.json.encode(state), type=Watched) == state


def test_one_that_was_kept_before_dangers_were_weighed_again_goes_on_with_its_episode() -> None:
    """The earlier program wrote neither how far it had read nor what it had weighed."""
    before = kept(shop())
    told = msgspec.to_builtins(before)
    del told["read_to"], told["weighed"]
    earlier = msgspec.convert(told, type=Watched)
    follower = Follower(promised(shop()))
    follower.states = {"o1": earlier}
    follower.bench.at("16 17:00")
    assert follower.look() == []
    now = follower.states["o1"]
    assert (now.episode, now.danger) == (before.episode, before.danger)
    assert now.sound_at == on_day("1 06:00")


@pytest.mark.parametrize(("line", "name"), [(None, "o1"), ("2", "o1/2")])
def test_a_promise_has_the_word_of_its_order_and_of_its_line(line: str | None, name: str) -> None:
    assert name_of("o1", line) == name
