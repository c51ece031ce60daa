"""Camera resection: from the corners of the tags to a camera with its covariance.

A focal length from EXIF is a prior, not a fact: phones round it. Ink spreads, and so does a blurred edge, so
every tag may be larger than drawn by one common amount; that amount is fitted too.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import softmax

from vision.camera.camera import LOG_ASPECT, LOG_FOCAL, SHIFT, Camera
from vision.camera.priors import OF_ANY_LENS, Priors, readings
from vision.camera.problem import NOT_FLAT, Problem
from vision.common.errors import NoSheetError
from vision.common.records import FloatArray
from vision.sheet.tags import Tags

_START_FOCALS_35MM = (26.0, 35.0, 50.0, 80.0)
"""Starts of the fit where EXIF has no focal length: main lens to threefold zoom."""
_FLAT_MM = 0.2
"""The sheet is not flat if the corners lie farther from where a flat sheet has them, root mean square, beyond
their noise. Printers place tags within 0.1 mm (common practice, no source); drawn photos leave 0.02 mm; a mat
folded by 4 degrees leaves 0.2 mm and is off by half a per cent."""

_ZOOM_SEEN_LOG_SD = math.log(2) / 4
"""The tags tell a zoom to twice the focal length where it is four deviations off by what they alone know,
from a tilt of about 2 degrees on. At half 19 of 24 drawn photos would be called too level, not 6."""


def resect(
    tags: Tags, *, check_length_mm: float, size_px: tuple[int, int], focal_35mm: float | None
) -> Camera:
    """Fit the camera to the corners of the tags by robust least squares with priors.

    Parameters
    ----------
    tags : Tags
    check_length_mm : float
        What the maker's ruler reads on the printed sheet; every length of the sheet scales with it.
    size_px : tuple of int
        (width, height) of the photo.
    focal_35mm : float or None
        35 mm equivalent focal length from EXIF.

    Raises
    ------
    NoSheetError
        If no camera fits the corners.
    """
    scale = check_length_mm / tags.sheet.check_length_mm
    known = readings(size_px, focal_35mm)
    printed = np.array([tags.sheet.corners_mm(i) for i in tags.ids]) * scale
    problem = Problem(tags=tags, corners_mm=printed, tag_mm=tags.sheet.tag_mm * scale, priors=known[0][0])
    starts = _START_FOCALS_35MM if focal_35mm is None else (focal_35mm,)
    # by what the corners leave, not by cost: in deviations of its own noise the worst fit costs least
    found = min(
        (problem.solve(problem.start(focal, size_px)) for focal in starts),
        key=lambda each: (not _before_lens(each), problem.spread_px(each)),
    )
    fits = _fits(problem, known, found)
    found = min((fit.parameters for fit in fits if _before_lens(fit.parameters)), key=problem.spread_px)
    sound = problem.without_wrong_tags(found)
    if sound is not problem:
        problem, fits = sound, _fits(sound, known, found)
    # What the nearest of all leaves is not its priors' fault.
    nearest = min((fit.parameters for fit in fits if _before_lens(fit.parameters)), key=problem.misfit_mm)
    if not problem.misfit_mm(nearest) < _FLAT_MM:
        raise NoSheetError(NOT_FLAT)
    noise = problem.noise_px(nearest)
    return _judged([fit.at(noise) for fit in fits], noise)


def _fits(problem: Problem, known: list[tuple[Priors, float]], start: FloatArray) -> list["_Fit"]:
    """Return what fits best under each of several priors.

    Raises
    ------
    NoSheetError
        None of them has the sheet before the lens.
    """
    problems = [(replace(problem, priors=priors), share) for priors, share in known]
    fits = [_Fit(problem=each, parameters=each.solve(start), share=share) for each, share in problems]
    if not any(_before_lens(fit.parameters) for fit in fits):
        raise NoSheetError(NOT_FLAT)
    return fits


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fit:
    """A problem, the parameters that fit best, and how probable the problem's priors are beforehand."""

    problem: Problem
    parameters: FloatArray
    share: float

    def at(self, noise_px: float) -> "_Fit":
        """Return what fits best at a given noise."""
        return replace(self, parameters=self.problem.fitted(self.parameters, noise_px))

    def log_evidence(self, noise_px: float) -> float:
        """Return the logarithm of how probable the corners are, but for what all priors have in common.

        By Laplace's method: MacKay (2003), Information theory, inference, and learning algorithms, 28.1.
        """
        problem, parameters = self.problem, self.parameters
        cost = 0.5 * float(np.sum(problem.weighted(parameters, noise_px) ** 2))
        sign, detail = np.linalg.slogdet(problem.information(parameters, noise_px))
        if sign <= 0:  # not one corner agrees, so none tells where the camera stood
            return -math.inf
        return -0.5 * float(detail) - cost - float(np.log(problem.priors.sd).sum())

    def focal_log_sd(self, noise_px: float) -> float:
        """Return the standard deviation of the log focal length; infinite if not one corner agrees."""
        information = self.problem.information(self.parameters, noise_px)
        if np.linalg.slogdet(information)[0] <= 0:
            return math.inf
        return math.sqrt(float(np.linalg.inv(information)[LOG_FOCAL, LOG_FOCAL]))

    def covariance_about(self, best: FloatArray, noise_px: float) -> FloatArray:
        """Return the second moments of the parameters about those of another fit, shape (12, 12).

        The covariance, and the square of how far this fit's focal length and stretch lie from the other's.
        All else follows them in the direction in which the corners hardly tell them apart.
        """
        covariance = np.linalg.inv(self.problem.information(best, noise_px))
        inner = [LOG_FOCAL, LOG_ASPECT]
        apart = np.linalg.solve(covariance[np.ix_(inner, inner)], (self.parameters - best)[inner])
        away = covariance[:, inner] @ apart
        return np.asarray(covariance + np.outer(away, away))


def _before_lens(parameters: FloatArray) -> bool:
    """Return whether the sheet lies before the lens: a fit may end at a mirrored view from behind it."""
    return bool(parameters[SHIFT][2] > 0)


def _judged(fits: list[_Fit], noise_px: float) -> Camera:
    """Return the camera of the most probable fit; its covariance is that of all, by their probabilities."""
    logs = [
        math.log(fit.share) + fit.log_evidence(noise_px)
        if fit.share and _before_lens(fit.parameters)
        else -math.inf
        for fit in fits
    ]
    if not np.isfinite(max(logs)):
        raise NoSheetError(NOT_FLAT)
    shares = softmax(logs)
    best = fits[int(np.argmax(shares))].parameters
    about = zip(shares, fits, strict=True)
    return Camera(
        parameters=best,
        covariance=sum(share * fit.covariance_about(best, noise_px) for share, fit in about if share > 0),
        is_whole=not np.argmax(shares),
        zoom_seen=fits[OF_ANY_LENS].focal_log_sd(noise_px) < _ZOOM_SEEN_LOG_SD,
    )
