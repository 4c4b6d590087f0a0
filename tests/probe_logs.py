"""Logs of temperature probes as a heated room makes them, and the same with faults."""

import random


def heated(top=52.0, *, start=21.0, rise=0.2, hold=100, step=2, seed=1, digits=1):
    """Readings of a probe in furniture: it warms, bends towards ``top`` and wavers a little above it."""
    luck, readings, minute, celsius = random.Random(seed), [], 0, start
    held = 0
    while held <= hold:
        wobble = luck.uniform(0.05, 0.8) if celsius >= top else luck.uniform(-0.1, 0.1)
        readings.append((float(minute), round(min(celsius, top) + wobble, digits)))
        held += step if celsius >= top else 0
        celsius += rise * step
        minute += step
    return readings


def job(top=52.0, **more):
    """Three probes where bugs hide, each with its own luck, all held."""
    return {
        place: heated(top + i / 2, seed=more.pop("seed", 1) + i, rise=0.2 + i / 50, **more)
        for i, place in enumerate(("mattress", "sofa", "baseboard"))
    }


def log_text(logs, scale="celsius"):
    """The log as CSV."""
    rows = [f"{name},{minute:g},{degrees}" for name, readings in logs.items() for minute, degrees in readings]
    return "\n".join([f"probe,minute,{scale}", *rows]) + "\n"
