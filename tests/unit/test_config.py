import pytest

from studio.config import Corrections, load_corrections, load_settings
from studio.errors import ConfigError

GOOD = '[sources]\nclip = "c.mp4"\n'


def write(folder, text, name="episode.toml"):
    (folder / name).write_bytes(text if isinstance(text, bytes) else text.encode())
    return folder


def test_defaults_fill_what_is_not_said(tmp_path):
    settings = load_settings(write(tmp_path, GOOD))
    assert (settings.athlete.consent, settings.captions.max_chars) == ("unknown", 37)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (GOOD + "[athlete]\nnickname = 'x'\n", "nickname"),
        (GOOD + "[athlete]\nconsent = 'maybe'\n", "consent"),
        (GOOD + "[athlete]\nheight_cm = 'tall'\n", "height_cm"),
        (GOOD + "[athlete]\nheight_cm = nan\n", "height_cm"),
        (GOOD + "[clip]\ncaptured_fps = -1\n", "captured_fps"),
        ("", "recording or a clip"),
        ("[sources\n", "not valid TOML"),
        (b"\xff\xfe", "not valid TOML"),
        ("a = " + "[" * 5000, "not valid TOML"),
        (b"#" * (1 << 21), "larger than"),
    ],
)
def test_bad_settings_are_told_by_name(tmp_path, text, told):
    with pytest.raises(ConfigError, match=told):
        load_settings(write(tmp_path, text))


def test_all_troubles_are_told_at_once(tmp_path):
    text = GOOD + "[athlete]\nconsent = 'maybe'\nlevel = 'star'\n"
    with pytest.raises(ConfigError, match=r"consent.*level"):
        load_settings(write(tmp_path, text))


def test_corrections_are_read_and_optional(tmp_path):
    assert load_corrections(tmp_path) == Corrections()
    text = '[[events]]\nevent = "catch"\nfrom_s = 1.0\nto_s = 1.1\n'
    write(tmp_path, text, "corrections.toml")
    assert load_corrections(tmp_path).events[0].to_s == 1.1
