"""Crossed parts by seed: scene after scene, and in every third the cuts of many at once."""

from __future__ import annotations

import random

from bench.crossed import Crossed, Scene
from bench.crossed_more import MORE, many_at_once
from bench.crossed_scenes import SCENES
from bench.crossed_shop import SHOP
from worker.kernel.shape import solids

TRIES = 20


def crossed(seed: int, seams: int = 0) -> Crossed:
    """The part of a seed, the same one each time; ``seams`` alone decides where round faces begin."""
    dice = random.Random(f"crossed {seed}")
    scenes = (*SCENES, *MORE, *SHOP)
    draw = many_at_once if seed % 3 == 2 else scenes[(seed // 3 * 2 + seed % 3) % len(scenes)]
    for _ in range(TRIES):
        size = (round(dice.uniform(90, 130), 2), round(dice.uniform(70, 100), 2), round(dice.uniform(30, 45), 2))
        scene = Scene(size, dice, random.Random(f"seams {seed} {seams}"))
        draw(scene)
        body = scene.made()
        if len(solids(body)) == 1:
            return Crossed(f"crossed-{seed}-{draw.__name__}", body, tuple(scene.wanted))
    raise ValueError(f"seed {seed} never leaves one solid")
