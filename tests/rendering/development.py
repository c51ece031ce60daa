"""What a phone makes of the light on its sensor: exposure, tone, noise and its removal, sharpening, JPEG."""

import cv2
import numpy as np
from numpy.typing import NDArray


def developed(light: NDArray[np.float32], rng: np.random.Generator) -> NDArray[np.uint8]:
    """Return sRGB codes, shape (H, W, 3), of linear light."""
    height, width = light.shape[:2]
    blur = float(np.exp(rng.uniform(np.log(0.25), np.log(1.6 if rng.random() < 0.25 else 0.7))))
    light = cv2.GaussianBlur(light, (0, 0), blur)
    balance = np.exp(rng.normal(0, 0.07, 3)).astype(np.float32)
    white = float(np.percentile(light.mean(axis=2), 97)) + 1e-6
    exposed = light * balance * float(rng.uniform(0.5, 1.15)) / white
    y, x = np.mgrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j]
    exposed *= (1 - rng.uniform(0, 0.2) * (x**2 + y**2) / 2)[..., None].astype(np.float32)
    grain = rng.exponential(0.006)
    exposed = exposed + (
        rng.normal(0, 1, exposed.shape) * grain * np.sqrt(np.maximum(exposed, 0.004))
    ).astype(np.float32)
    if rng.random() < 0.6:  # noise removed, and fine detail with it
        exposed = cv2.bilateralFilter(exposed.astype(np.float32), 5, float(rng.uniform(0.01, 0.06)), 1.5)
    local = float(rng.uniform(0, 0.4)) * (rng.random() < 0.7)
    if local:  # dark places are lifted, bright ones held down
        luma = np.log(np.maximum(exposed.mean(axis=2), 0.004))
        wide = cv2.GaussianBlur(luma, (0, 0), width / 20)
        exposed = exposed * np.exp(-local * (wide - wide.mean()))[..., None]
    codes = np.clip(exposed, 0, 1) ** (1 / 2.2) if rng.random() < 0.5 else _curve(exposed)
    mean = codes.mean(axis=2, keepdims=True)
    codes = mean + (codes - mean) * float(rng.uniform(0.85, 1.25))
    amount = float(rng.choice([0, 0.4, 0.9, 1.4]))
    codes = codes + amount * (codes - cv2.GaussianBlur(codes, (0, 0), 1.0))
    if rng.random() < 0.3:  # colour fringes
        k = float(rng.normal(0, 3e-4))
        codes = np.dstack([_enlarged(codes[..., 0], 1 + k), codes[..., 1], _enlarged(codes[..., 2], 1 - k)])
    out = np.rint(np.clip(codes, 0, 1) * 255).astype(np.uint8)
    _, coded = cv2.imencode(".jpg", out[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(70, 96))])
    return np.ascontiguousarray(cv2.imdecode(coded, cv2.IMREAD_COLOR)[..., ::-1])


def _curve(light: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return codes by a curve that rolls off bright light."""
    x = np.maximum(light, 0)
    return np.clip((x * (1 + x / 4) / (1 + x * 0.6)) ** (1 / 2.2), 0, 1)


def _enlarged(channel: NDArray[np.float32], by: float) -> NDArray[np.float32]:
    height, width = channel.shape
    turn = np.array([[by, 0, (1 - by) * width / 2], [0, by, (1 - by) * height / 2]])
    return cv2.warpAffine(channel.astype(np.float32), turn, (width, height), borderMode=cv2.BORDER_REPLICATE)
