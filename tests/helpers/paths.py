"""Where the repository and its sample photos lie."""

from pathlib import Path

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_images"
