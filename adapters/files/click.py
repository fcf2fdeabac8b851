"""A click track as a WAV file: 16-bit mono PCM. Pure: a recipe in, bytes out.

Every one is accented; the count-in sounds lower, so that one hears where the routine begins.
"""
from __future__ import annotations

import wave
from array import array
from functools import cache
from io import BytesIO
from math import cos, exp, pi
from sys import byteorder

from bot.attached import Click
from bot.music import BEATS, sample_of_beat

RATE = 22_050               # samples a second: enough for a click, and half the size of a record
CLICK_S, FADE = 0.04, 150.0     # how long a click is, and how quickly it fades
ONE, OTHER = (1_980.0, 0.9), (1_320.0, 0.5)     # pitch in Hz, loudness from 0 to 1
LOWER = 0.5                 # the count-in, an octave down
LOUDEST = 32_767


def track(recipe: Click, rate: int = RATE) -> bytes:
    """The whole file, at so many samples a second."""
    made = BytesIO()
    with wave.open(made, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(rate)
        out.writeframes(_bytes(samples(recipe, rate)))
    return made.getvalue()


def samples(recipe: Click, rate: int = RATE) -> array[int]:
    """Its samples, from -32768 to 32767; each click begins loudest, at the very sample of its beat."""
    before = recipe.count_in * BEATS
    beats = before + recipe.eights * BEATS * recipe.times
    made = array("h", bytes(2 * sample_of_beat(beats, recipe.bpm, rate)))
    for beat in range(beats):
        at = sample_of_beat(beat, recipe.bpm, rate)
        sound = _sound(rate, beat % BEATS == 0, beat < before)[:len(made) - at]
        made[at:at + len(sound)] = sound
    return made


@cache
def _sound(rate: int, one: bool, before: bool) -> array[int]:
    pitch, loud = ONE if one else OTHER
    turn = 2 * pi * pitch * (LOWER if before else 1.0) / rate
    return array("h", (
        round(LOUDEST * loud * cos(turn * n) * exp(-FADE * n / rate)) for n in range(round(CLICK_S * rate))
    ))


def _bytes(values: array[int]) -> bytes:
    if byteorder == "big":
        values = array("h", values)
        values.byteswap()
    return values.tobytes()
