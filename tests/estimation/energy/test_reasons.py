"""Every reason the energy estimates give has its sentence."""

import inspect
import re

from monitor.estimation import charge_told, forecast, low_end
from monitor.words.energy import SENTENCES


def test_every_reason_has_a_sentence_and_every_sentence_a_reason() -> None:
    text = "".join(inspect.getsource(module) for module in (charge_told, low_end, forecast))
    given = set(re.findall(r'"((?:charge|days) [a-z ]+)"[,)\s]', text))

    assert given == set(SENTENCES)
