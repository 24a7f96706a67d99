"""What was refused can be told in any language: text and facts outlive every way to a page."""

import pickle
from collections.abc import Iterator
from concurrent.futures import Future

import pytest

from monitor.errors import CommandError
from monitor.words.say import fill
from monitor.words.units import US_GALLONS, Dress
from monitor.worker import Worker

TOO_MUCH = "{given:litres} do not go into a tank of {holds:litres}"


def refuse(text: str, facts: dict[str, object]) -> None:
    """In the worker's process."""
    raise CommandError(text, **facts)


@pytest.fixture
def worker() -> Iterator[Worker]:
    found = Worker()
    yield found
    found.close()


def test_as_a_string_it_is_english() -> None:
    assert str(CommandError(TOO_MUCH, given=500.0, holds=200)) == "500 L do not go into a tank of 200 L"
    assert str(CommandError("no tank is called {tank!r}", tank="bow")) == "no tank is called 'bow'"
    assert str(CommandError("a sentence {as} it was said.")) == "a sentence {as} it was said."


def test_several_are_told_in_a_row() -> None:
    two = [["{name}: expected a number", {"name": "limit"}], ["wakes: an alarm always sounds", {}]]
    error = CommandError("{mistakes}", mistakes=two)

    assert str(error) == "limit: expected a number; wakes: an alarm always sounds"
    assert fill(error.text, error.facts, Dress()) == str(error)


def test_a_reader_is_told_in_their_units() -> None:
    """378.5411784 L are 100 US gal of 231 cubic inches."""
    error = CommandError(TOO_MUCH, given=378.5411784, holds=200.0)

    assert fill(error.text, error.facts, Dress(volume=US_GALLONS)).startswith("100\u00a0US gal do not go")


def test_it_survives_being_pickled_and_a_future() -> None:
    answer: Future[None] = Future()
    answer.set_exception(pickle.loads(pickle.dumps(CommandError(TOO_MUCH, given=500.0, holds=200))))

    with pytest.raises(CommandError, match="500 L") as caught:
        answer.result(1)
    assert (caught.value.text, caught.value.facts) == (TOO_MUCH, {"given": 500.0, "holds": 200})


def test_it_comes_back_whole_from_the_worker(worker: Worker) -> None:
    with pytest.raises(CommandError, match="200 L") as caught:
        worker.run(refuse, TOO_MUCH, {"given": 500.0, "holds": 200})

    assert caught.value.facts == {"given": 500.0, "holds": 200}
