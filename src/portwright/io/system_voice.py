"""Words to a sound file by a voice that is on this computer; nothing is sent anywhere.

On Linux the voice is espeak-ng, where it is installed; Windows and macOS bring their own.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from portwright.errors import ReportError

_LONGEST = 300.0  # s; a summary takes a few seconds to speak into a file
_WINDOWS = """
Add-Type -AssemblyName System.Speech
$voice = New-Object System.Speech.Synthesis.SpeechSynthesizer
$fit = $voice.GetInstalledVoices() | Where-Object {
  $_.Enabled -and $_.VoiceInfo.Culture.TwoLetterISOLanguageName -eq $env:PORTWRIGHT_LANGUAGE }
if (-not $fit) { exit 3 }
$voice.SelectVoice($fit[0].VoiceInfo.Name)
$voice.SetOutputToWaveFile($env:PORTWRIGHT_WAV)
$voice.Speak([System.IO.File]::ReadAllText($env:PORTWRIGHT_WORDS))
$voice.Dispose()
"""


_HOW = {
    "win32": (
        "Windows speaks through powershell.exe, which is not on the path: add "
        r"C:\Windows\System32\WindowsPowerShell\v1.0 to it and start Portwright again."
    ),
    "darwin": (
        "macOS speaks through /usr/bin/say, which is not on the path: add /usr/bin to it and start "
        "Portwright again."
    ),
    "linux": "Install the package espeak-ng, like: sudo apt install espeak-ng.",
}


# Where a voice of another language is added (names of menus from memory; systems move them).
_LANGUAGES = {
    "win32": "Add one under Settings, Time & language, Speech, Manage voices.",
    "darwin": "Add one under System Settings, Accessibility, Spoken Content, System voice.",
    "linux": "espeak-ng brings its languages in the package espeak-ng-data.",
}


def voice_hint() -> str:
    """What to do on this system to have a voice."""
    said = _HOW.get(sys.platform, _HOW["linux"])
    return f"{said} The browser can still read the words aloud."


def voice_name() -> str:
    """Program that can speak on this computer, "" where there is none."""
    for name in ("espeak-ng", "espeak"):
        if shutil.which(name):
            return name
    if sys.platform == "darwin" and shutil.which("say"):
        return "say"
    if sys.platform == "win32" and shutil.which("powershell"):
        return "powershell"
    return ""


def speak_to_wav(words: str, language: str = "en") -> bytes:
    """A WAV file of the words spoken.

    Parameters
    ----------
    language : str
        Two letters; a computer without a voice for it says so.

    Raises
    ------
    ReportError
        There is no voice, or it failed.
    """
    program = voice_name()
    if not program:
        raise ReportError(
            "There is no voice on this computer.",
            voice_hint(),
        )
    with tempfile.TemporaryDirectory(prefix="portwright-") as folder:
        text, wav = Path(folder, "words.txt"), Path(folder, "spoken.wav")
        text.write_text(words, encoding="utf-8")
        command, environment = _command(program, text, wav, language)
        try:
            done = subprocess.run(  # noqa: S603 - a fixed program with files of our own
                command, env=environment, capture_output=True, timeout=_LONGEST, check=False
            )
        except (OSError, subprocess.TimeoutExpired) as error:
            raise ReportError(f"The voice {program} did not speak: {error}.") from error
        if done.returncode != 0 or not wav.is_file():
            raise ReportError(
                f"The voice {program} did not speak.",
                f"Is a voice for the language '{language}' installed? "
                f"{_LANGUAGES.get(sys.platform, _LANGUAGES['linux'])}",
            )
        return wav.read_bytes()


def _command(
    program: str, text: Path, wav: Path, language: str
) -> tuple[list[str], dict[str, str] | None]:
    if program == "powershell":
        environment = os.environ | {
            "PORTWRIGHT_LANGUAGE": language,
            "PORTWRIGHT_WAV": str(wav),
            "PORTWRIGHT_WORDS": str(text),
        }
        return [program, "-NoProfile", "-NonInteractive", "-Command", _WINDOWS], environment
    if program == "say":
        voice = _mac_voice(language)
        chosen = ["-v", voice] if voice else []
        form = "--data-format=LEI16@22050"
        return [program, *chosen, "-f", str(text), "-o", str(wav), form], None
    return [program, "-v", language, "-s", "150", "-w", str(wav), "-f", str(text)], None


def _mac_voice(language: str) -> str:
    """First voice of a language in the system's list, whose lines are "Name  xx_YY  # words"."""
    listed = subprocess.run(
        ["say", "-v", "?"],  # noqa: S607 - the system's own
        capture_output=True,
        encoding="utf-8",
        timeout=_LONGEST,
        check=False,
    )
    for line in listed.stdout.splitlines():
        name, _, _ = line.partition("#")
        parts = name.split()
        if len(parts) > 1 and parts[-1].lower().startswith(language):
            return " ".join(parts[:-1])
    return ""
