"""The sheet of every card in every state: nothing is missing from it, and nothing fails to be drawn."""

from fastapi.testclient import TestClient

from tests.web.canned import STATES
from tests.web.specimen import specimen


def test_every_state_stands_on_it() -> None:
    answer = TestClient(specimen(), base_url="http://127.0.0.1").get("/?light=night&language=es")
    assert answer.status_code == 200
    assert [state for state in STATES if f'<h2 class="specimen">{state}: ' not in answer.text] == []
    assert '<html lang="es" class="night">' in answer.text
