"""What a library that tracks beats hears in our click tracks: `python tests/bench/hear_clicks.py`

Needs librosa, which is no dependency of the tests: with its own it takes 500 MB. Tempi and tolerances are those of
tests/outside/data/05_music.json, measured there with librosa 0.11.0 on its own clicks: the tempo that it names within 6
beats a minute, the line through its beats within half a one.
"""
from __future__ import annotations

import json
import sys
from pathlib import Path

import librosa
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from adapters.files.click import samples
from bot.attached import Click
from bot.music import BEATS

DATA = Path(__file__).parents[1] / "outside" / "data" / "05_music.json"


def heard(case: dict) -> tuple[float, float, int]:
    """The tempo that the library names, the one by a line through its beats, and how many beats it finds."""
    given = case["input"]
    rate, hop = given["sample_rate"], given["hop"]
    recipe = Click(given["click_track_bpm"], given["beats"] // BEATS, 1, 0)
    sound = np.array(samples(recipe, rate), dtype=np.float32) / 32_768
    tempo, beats = librosa.beat.beat_track(y=sound, sr=rate, hop_length=hop)
    times = librosa.frames_to_time(beats, sr=rate, hop_length=hop)
    return float(np.atleast_1d(tempo)[0]), 60 / float(np.polyfit(np.arange(len(times)), times, 1)[0]), len(beats)


def main() -> int:
    """Listen to each; 1 where one is not heard as it is."""
    met = True
    for case in json.loads(DATA.read_text("utf-8"))["cases"]:
        if case["id"].startswith("librosa_"):
            bpm, allowed = case["input"]["click_track_bpm"], case["tolerance"]
            tempo, line, beats = heard(case)
            good = abs(tempo - bpm) <= allowed["tempo_bpm"] and abs(line - bpm) <= allowed["regression_bpm"]
            met = met and good
            print(f"{bpm}: heard {tempo:.1f}, by its beats {line:.3f}, {beats} of {case['input']['beats']} beats"
                  f"{'' if good else '  NOT as it is'}")
    return 0 if met else 1


if __name__ == "__main__":
    raise SystemExit(main())
