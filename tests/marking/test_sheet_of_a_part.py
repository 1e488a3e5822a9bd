"""Whatever a drop names has a sheet on which it is configured."""

import pytest

from trainer.lab.questions import FORM
from trainer.marking.experiments import _SHEETS
from trainer.network.devices import Part


@pytest.mark.parametrize("part", Part)
def test_every_part_of_a_device_has_a_sheet(part):
    assert _SHEETS[part] in {section.title for section in FORM}
