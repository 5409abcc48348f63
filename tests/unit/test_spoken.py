"""The summary for the ear: nothing a voice stumbles over, the numbers of the comparison."""

from __future__ import annotations

import io
import re
import wave
from pathlib import Path

import pytest

from portwright.archive.archive import Archive
from portwright.errors import ReportError
from portwright.io import system_voice
from portwright.services import spoken
from portwright.services.compare import compare_names
from portwright.services.demo import DEMO_JOB
from portwright.services.report import ReportChoices
from portwright.services.spoken import spoken_summary

# Signs and shortened units that a voice reads as letters or not at all.
STUMBLES = re.compile(r"[±%→/·°|<>=+()\[\]]|\b(?:mm|cfm|inH2O|kPa|thou|cc|approx)\b|\d+\.\d\d|--")


@pytest.fixture(scope="module")
def text(demo_archive: Archive) -> str:
    return spoken_summary(demo_archive, DEMO_JOB)


def test_it_is_words_and_whole_numbers(text: str) -> None:
    assert not STUMBLES.search(text)
    sentences = re.findall(r"[^.]+\.", text)
    assert 6 <= len(sentences) <= 16
    assert max(len(s.split()) for s in sentences) <= 32, "one breath"


def test_its_numbers_are_those_of_the_comparison(text: str, demo_archive: Archive) -> None:
    result = compare_names(demo_archive, "I1:S0", "I1:S7", job=DEMO_JOB).result
    assert result.over_cam is not None
    assert f"about {100.0 * result.over_cam.gain:.0f} percent more air" in text
    assert "12 millimetres of valve lift it flows 163 cubic feet per minute" in text
    assert "28 inches of water" in text
    assert "no promise of power" in text
    assert "Ingrid" not in text


def test_german_inches(demo_archive: Archive) -> None:
    german = spoken_summary(demo_archive, DEMO_JOB, ReportChoices("in", "de"))
    assert "472 Tausendstel Zoll" in german
    assert "Prozent mehr Luft" in german
    assert not re.search(r"[±%→/]", german)


@pytest.mark.parametrize(
    ("system", "words"),
    [("linux", "espeak-ng"), ("win32", "powershell"), ("darwin", "/usr/bin/say")],
)
def test_a_computer_without_a_voice_says_what_to_do(
    monkeypatch: pytest.MonkeyPatch, system: str, words: str
) -> None:
    monkeypatch.setattr("portwright.io.system_voice.shutil.which", lambda _: None)
    monkeypatch.setattr("portwright.io.system_voice.sys.platform", system)
    assert not spoken.has_voice()
    with pytest.raises(ReportError, match="no voice on this computer") as refused:
        system_voice.speak_to_wav("hello")
    assert words in refused.value.hint


@pytest.mark.parametrize(
    ("program", "parts"),
    [
        ("espeak-ng", ["espeak-ng", "-v", "de", "-w", "-f"]),
        ("say", ["say", "-f", "-o", "--data-format=LEI16@22050"]),
        ("powershell", ["powershell", "-NoProfile", "-Command"]),
    ],
)
def test_each_system_is_asked_in_its_own_way(
    monkeypatch: pytest.MonkeyPatch, program: str, parts: list[str]
) -> None:
    monkeypatch.setattr(system_voice, "_mac_voice", lambda _: "")
    words = Path("no such folder", "words.txt")
    command, environment = system_voice._command(program, words, Path("out.wav"), "de")
    assert [p for p in parts if p in command] == parts
    if program == "powershell":
        assert environment is not None
        assert environment["PORTWRIGHT_WORDS"] == str(words)


@pytest.mark.skipif(not system_voice.voice_name(), reason="no system voice here")
def test_a_system_voice_makes_a_sound_file() -> None:
    made = system_voice.speak_to_wav("Twenty two percent more air.")
    with wave.open(io.BytesIO(made)) as sound:
        seconds = sound.getnframes() / sound.getframerate()
        loudest = max(abs(v) for v in memoryview(sound.readframes(sound.getnframes())).cast("h"))
    assert 0.5 < seconds < 20.0
    assert loudest > 1000
