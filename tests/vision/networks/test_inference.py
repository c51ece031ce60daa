"""Running a network: sides of any length, many pictures, and the scale of Student's t."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import t

from vision.networks import inference
from vision.networks.inference import U_OF_T4_SCALE, estimates
from vision.networks.levels import logit_maps


def picture(height: int, width: int) -> np.ndarray:
    """Return smooth colours about 0 and a view from straight above, shape (H, W, 5)."""
    y, x = np.mgrid[:height, :width] / 40
    layers = [np.sin(x), np.cos(y), np.sin(x + y), np.zeros_like(x), np.zeros_like(x)]
    return np.stack(layers, axis=-1).astype(np.float32) / 2


@pytest.mark.parametrize(("height", "width"), [(64, 96), (65, 97), (95, 127)])
def test_a_picture_of_any_sides_has_maps_of_its_own_size(height: int, width: int) -> None:
    maps = logit_maps("strand", picture(height, width), maps=5)
    assert maps.shape == (5, height, width)
    assert maps.dtype == np.float32


def test_a_network_gets_few_pictures_at_once_and_all_answers_come_in_order(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked = []

    def run(name: str, cells: np.ndarray) -> np.ndarray:
        asked.append((name, cells.shape))
        return cells[:, :1, 0, 0]

    monkeypatch.setattr(inference, "run", run)
    pictures = [np.full((4, 6, 3), number, np.float32) for number in range(20)]
    assert estimates("pieces", pictures)[:, 0].tolist() == list(range(20))
    assert asked == [("pieces", (count, 12, 2, 3)) for count in (16, 4)]


def test_uncertainty_is_half_of_the_interval_of_95_per_cent() -> None:
    assert pytest.approx(t.ppf(0.975, 4) / 2, abs=0.002) == U_OF_T4_SCALE


def test_the_library_of_the_networks_keeps_and_sends_no_report(tmp_path: Path) -> None:
    # It writes its report, which a later run sends, into the user's folder for caches as soon as it loads.
    code = "from vision.networks.inference import network; network('pieces', threads=1)"
    environment = {"PATH": os.environ["PATH"], "PYTHONPATH": os.pathsep.join(sys.path)}
    folders = {"HOME": str(tmp_path), "XDG_CACHE_HOME": str(tmp_path)}
    subprocess.run([sys.executable, "-c", code], env=environment | folders, check=True)
    assert list(tmp_path.iterdir()) == []
