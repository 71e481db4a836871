import pickle

import pytest

from studio import errors

CODES = {"MediaError": 3, "EvidenceError": 4, "ToolError": 5, "OutputError": 6, "ConfigError": 7,
         "PlanError": 8}  # fmt: skip


@pytest.mark.parametrize("name", CODES)
def test_each_error_has_its_exit_code_and_survives_pickling(name):
    error = getattr(errors, name)("clip.mp4: trouble.", "Do this.")
    again = pickle.loads(pickle.dumps(error))
    assert (again.exit_code, str(again)) == (CODES[name], "clip.mp4: trouble. Do this.")


def test_an_error_is_one_line_even_when_a_name_is_not():
    assert "\n" not in str(errors.MediaError("a\nb.mp4: gone."))
