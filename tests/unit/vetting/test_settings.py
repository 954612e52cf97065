"""A program file that no program writes ends in one sentence.

Bounds of whole numbers: TOML 1.0.0 (toml.io/en/v1.0.0), section Integer; characters: XML 1.0,
section 2.2, which every workbook and document is written in.
"""

from __future__ import annotations

import time
import tomllib

import pytest

from planner.errors import ProgramError
from planner.program import read_program
from planner.vetting.settings import BYTES_MOST, UnsoundSettingsError, read_settings

FILES = {
    "many digits": ("a = " + "9" * 5_000, "thousands of digits"),
    "beyond 64 bits": ("[b]\na = 9223372036854775808", "b.a: found a number of more than 18"),
    "deep list": ("a = " + "[" * 50_000 + "]" * 50_000, "nests deeper"),
    "deep enough": ("a = " + "[" * 40 + "]" * 40, "nests deeper"),
    "deep table": ("[" + "a." * 60_000 + "a]", "nests deeper"),
    "deep quoted table": ("[" + '"a" . ' * 30_000 + "a]", "nests deeper"),
    "deep inline table": ("a = {" + "b." * 60_000 + "b = 1}", "nests deeper"),
    "long": ("#" * (BYTES_MOST + 1), "longer than 256 KiB"),
    "escape": ('[council]\nname = "Mar\\u001b[2Jrow"', r"council.name: .* U\+001B"),
    "no character": ('a = "\\uFFFE"', r"a: .* U\+FFFE"),
    "key": ('"a\\u0007" = 1', r"U\+0007"),
}


@pytest.mark.parametrize("name", FILES)
def test_an_unsound_program_file_is_refused_in_words(tmp_path, name):
    text, words = FILES[name]
    began = time.process_time()
    with pytest.raises(UnsoundSettingsError, match=words):
        read_settings(text)
    assert time.process_time() - began < 5.0
    path = tmp_path / "program.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ProgramError, match="cannot be read") as caught:
        read_program(path)
    assert not [sign for sign in str(caught.value) if ord(sign) < 32 and sign != "\n"]


@pytest.mark.parametrize("text", ['a = "\\ud800"', "a = ", "[a"])
def test_what_is_no_toml_stays_a_fault_of_its_line(text):
    with pytest.raises(tomllib.TOMLDecodeError):
        read_settings(text)


def test_the_largest_whole_numbers_of_the_standard_are_taken():
    assert read_settings("a = [9223372036854775807, -9223372036854775808]")["a"] == [
        2**63 - 1,
        -(2**63),
    ]
