"""The scene as a path tracer takes it: bodies, ground, light, camera; the picture, and what each ray meets.

Mitsuba 3 traces it. World: x right, y up, z up, mm; the bed is z = 0.
"""

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import drjit as dr
import mitsuba as mi
import numpy as np
from numpy.typing import NDArray

from tests.rendering.grounds import MARGIN_MM, Ground
from tests.rendering.meshes import Array, Mesh, box, capsule, joined
from tests.rendering.surfaces import Surface
from tests.rendering.things import Part, swirl

mi.set_variant("cuda_ad_rgb", "llvm_ad_rgb")  # the first that this machine has

PICTURE = (2160, 1620)
_BRIGHTEST = 12.0
"""A sample that is brighter counts so much: what is left of fireflies."""


@dataclass(frozen=True, kw_only=True)
class View:
    """Where the lens is, what it looks at, half of its horizontal field of view, degrees; pixels (W, H)."""

    lens: tuple[float, float, float]
    target: tuple[float, float, float]
    half_view: float
    pixels: tuple[int, int] = PICTURE


def any_view(half: tuple[float, float], rng: np.random.Generator) -> View:
    """Draw a camera held over the middle of the table, more or less level."""
    height = float(rng.uniform(200, 420))
    tilt = float(rng.choice([rng.uniform(0, 6), rng.uniform(0, 16)]))
    way = rng.uniform(0, 2 * np.pi)
    off = height * math.tan(math.radians(tilt)) * np.array([math.cos(way), math.sin(way)])
    aside = rng.normal(0, 12, 2)
    return View(
        lens=(float(off[0] + aside[0]), float(off[1] + aside[1]), height),
        target=(0.0, 0.0, 0.0),
        half_view=math.degrees(math.atan((half[0] + 6 + 0.02 * height) / math.hypot(height, *off)))
        + 0.35 * tilt,
    )


_COLOUR = {"type": "mesh_attribute", "name": "vertex_colour"}
_ROUGH = {"type": "mesh_attribute", "name": "vertex_rough"}
_PAINTS = {
    "opaque": {"specular": 0.3},
    "gloss": {"specular": 0.6, "clearcoat": 0.6, "clearcoat_gloss": 0.95},
    "metal": {"metallic": 1.0},
    "pearl": {"specular": 0.6, "clearcoat": 0.8, "clearcoat_gloss": 0.9, "metallic": 0.2},
    "coated": {"metallic": 0.75, "clearcoat": 0.5, "clearcoat_gloss": 0.95},
}
_LEAST_ROUGH = {"opaque": 0.5, "gloss": 0.1, "metal": 0.04, "pearl": 0.3, "coated": 0.05}


@functools.cache
def _materials() -> dict[str, Any]:
    """Return what each look is made of.

    Colours and roughness come from the meshes, so that these are the same in all scenes, and the tracer's
    program is compiled once.
    """
    made: dict[str, Any] = {
        look: {
            "type": "twosided",
            "bsdf": {"type": "principled", "base_color": _COLOUR, "roughness": _ROUGH, **facts},
        }
        for look, facts in _PAINTS.items()
    }
    made["clear"] = {"type": "dielectric", "int_ior": 1.52, "specular_transmittance": _COLOUR}
    made["frosted"] = {
        "type": "roughdielectric",
        "int_ior": 1.5,
        "alpha": 0.25,
        "specular_transmittance": _COLOUR,
    }
    made["tinted"] = made["clear"]
    return {look: mi.load_dict(facts) for look, facts in made.items()}


@dataclass(frozen=True, kw_only=True)
class _Body:
    """One mesh with its surface; `part` is its number among the parts of the table, -1 for surroundings."""

    mesh: Mesh
    surface: Surface
    part: int

    @property
    def group(self) -> str:
        """Name of the shape that it becomes a part of: bodies of one look are one shape."""
        return f"{'smooth' if self.mesh.smooth else 'flat'}-{self.surface.look}"


def _shape(bodies: Sequence[_Body], *, name: str, rng: np.random.Generator) -> Any:  # noqa: ANN401 - Mitsuba's
    """Return bodies of one look as one shape."""
    whole, look = joined(*(body.mesh for body in bodies)), bodies[0].surface.look
    props = mi.Properties()
    props["bsdf"] = _materials()[look]
    if not whole.smooth:
        props["face_normals"] = True
    shape = mi.Mesh(name, len(whole.points), len(whole.faces), has_vertex_normals=whole.smooth, props=props)
    colours = [body.surface.colours(body.mesh, int(rng.integers(2**31))) for body in bodies]
    least = _LEAST_ROUGH.get(look, 0.0)
    rough = [np.full(len(body.mesh.points), max(body.surface.rough, least)) for body in bodies]
    shape.add_attribute("vertex_colour", 3, np.concatenate(colours).astype(np.float32).ravel())
    shape.add_attribute("vertex_rough", 1, np.concatenate(rough).astype(np.float32))
    params = mi.traverse(shape)
    params["vertex_positions"] = whole.points.astype(np.float32).ravel()
    params["faces"] = whole.faces.astype(np.uint32).ravel()
    if whole.smooth:
        params["vertex_normals"] = whole.normals.astype(np.float32).ravel()
    params.update()
    return shape


def _picture(texture: NDArray[np.float32]) -> dict[str, Any]:
    return {
        "type": "twosided",
        "bsdf": {
            "type": "diffuse",
            "reflectance": {
                "type": "bitmap",
                "bitmap": mi.Bitmap(texture),
                "raw": True,
                "wrap_mode": "clamp",
            },
        },
    }


def _plane(
    texture: NDArray[np.float32], half: Array, z: float, over: Sequence[float] | None = None
) -> dict[str, Any]:
    """Return a level picture; `over` (left, bottom, right, top) shows a part of it, there."""
    left, low, right, top = over or (-half[0], -half[1], half[0], half[1])
    size = np.array(texture.shape[1::-1]) / 2 / half
    columns = np.clip(((np.array([left, right]) + half[0]) * size[0]).astype(int), 0, texture.shape[1])
    rows = np.clip(((half[1] - np.array([top, low])) * size[1]).astype(int), 0, texture.shape[0])
    shown = np.ascontiguousarray(texture[rows[0] : rows[1], columns[0] : columns[1]][::-1])  # v runs up
    place = mi.ScalarTransform4f().translate([(left + right) / 2, (low + top) / 2, z])
    place = place @ mi.ScalarTransform4f().scale([(right - left) / 2, (top - low) / 2, 1])
    return {"type": "rectangle", "to_world": place, "bsdf": _picture(shown)}


_LAMPS = 0.45
"""Share of tables with a lamp or the sun besides: few photographed rooms throw hard shadows."""


def _light(assets: Path, rng: np.random.Generator) -> dict[str, Any]:
    files = sorted((assets / "light").glob("*.exr"))
    sky = mi.Bitmap(str(files[rng.integers(len(files))])).convert(
        mi.Bitmap.PixelFormat.RGB, mi.Struct.Type.Float32, srgb_gamma=False
    )
    if rng.random() < _LAMPS:
        sky = mi.Bitmap(with_lamp(np.array(sky), rng))
    turn = mi.ScalarTransform4f().rotate([0, 0, 1], float(rng.uniform(0, 360)))
    turn = turn @ mi.ScalarTransform4f().rotate([1, 0, 0], 90 + float(rng.normal(0, 6)))
    return {"type": "envmap", "bitmap": sky, "to_world": turn, "scale": float(rng.uniform(0.5, 1.1))}


def with_lamp(sky: NDArray[np.float32], rng: np.random.Generator) -> NDArray[np.float32]:
    """Add a lamp or the sun to a sky, shape (H, W, 3): rows from the zenith down, columns around.

    It lights a level bed from a third to six times as much as the sky does.
    """
    down = (np.arange(len(sky)) + 0.5) / len(sky) * np.pi
    around = (np.arange(sky.shape[1]) + 0.5) / sky.shape[1] * 2 * np.pi
    solid = np.sin(down)[:, None] * (np.pi / len(sky)) * np.full(sky.shape[1], 2 * np.pi / sky.shape[1])
    shed = solid * np.maximum(np.cos(down), 0)[:, None]
    zenith, azimuth = rng.uniform(0.2, 1.25), rng.uniform(0, 2 * np.pi)
    near = np.sin(down)[:, None] * np.sin(zenith) * np.cos(around - azimuth)
    near = near + np.cos(down)[:, None] * np.cos(zenith)
    wide = np.radians(np.exp(rng.uniform(np.log(0.3), np.log(8.0))))
    lamp = near >= min(np.cos(wide), near.max())
    times = np.exp(rng.uniform(np.log(0.33), np.log(6.0)))
    light = times * (sky * shed[..., None]).sum() / 3 / shed[lamp].sum()
    return sky + lamp[..., None] * (light * np.exp(rng.normal(0, 0.12, 3))).astype(np.float32)


def _surroundings(view: View, rng: np.random.Generator) -> list[tuple[Mesh, Surface]]:
    """Return the phone, the hands and the photographer, and what throws large shadows."""
    lens = np.array(view.lens)
    black = Surface(look="opaque", colour=(0.02, 0.02, 0.02), rough=0.6)
    skin = Surface(look="opaque", colour=(0.5, 0.32, 0.24), rough=0.5)
    cloth = Surface(look="opaque", colour=tuple(float(v) for v in rng.uniform(0.03, 0.6, 3)), rough=0.8)
    turn, things = np.eye(3), []
    if rng.random() < 0.8:
        side = rng.choice([-1, 1])
        things.append((box(150, 75, 8).moved(turn, lens + np.array([side * 55, 0, 6])), black))
        things += [
            (capsule(14, 90).moved(turn, lens + np.array([side * (55 + s * 85), -20, 5])), skin)
            for s in (-1, 1)
        ]
        body = capsule(170, 900).moved(
            np.array([[0, 0, -1], [0, 1, 0], [1, 0, 0.0]]), (rng.normal(0, 60), -430, lens[2] + 150)
        )
        things.append((body, cloth))
    if rng.random() < 0.3:
        for _ in range(int(rng.integers(1, 3))):
            x, y = rng.uniform(-260, 260, 2)
            size = rng.uniform(60, 260, 2)
            panel = box(float(size[0]), float(size[1]), 2).moved(
                turn, (x, y, float(rng.uniform(lens[2] + 40, 900)))
            )
            things.append((panel, cloth))
    return things


def _keep_numbers_out(scene: Any) -> None:  # noqa: ANN401 - Mitsuba's
    """Let the numbers of a scene be data of the tracer's program, not part of it: so it is compiled once."""
    for _, value in mi.traverse(scene):
        if dr.is_jit_v(value):
            dr.make_opaque(value)


def _out_of_sight() -> list[_Body]:
    """Return a body of each look under the table, so that all scenes have the same shapes."""
    hidden = box(1, 1, 1).moved(np.eye(3), (0, 0, -500))
    return [
        _Body(
            mesh=replace(hidden, smooth=smooth), surface=Surface(look=look, colour=(0.5, 0.5, 0.5)), part=-1
        )
        for look in _materials()
        for smooth in (True, False)
    ]


class Stage:
    """A scene ready to be traced."""

    def __init__(
        self,
        parts: Sequence[Part],
        ground: Ground,
        view: View,
        *,
        assets: Path,
        half: tuple[float, float],
        rng: np.random.Generator,
    ) -> None:
        self.parts, self.view = list(parts), view
        half_ground = np.array(half) + MARGIN_MM
        scene: dict[str, Any] = {
            "type": "scene",
            "integrator": {"type": "path", "max_depth": 14, "rr_depth": 6},
        }
        scene["light"] = _light(assets, rng)
        scene["below"] = _plane(ground.below, half_ground, -ground.thick)
        scene["around"] = _plane(ground.below[::4, ::4], half_ground * 4, -ground.thick - 0.05)
        cloth = ground.cloth or (-1.0, -1.0, 1.0, 1.0)
        scene["bed"] = _plane(ground.bed, half_ground, 0.0 if ground.cloth else -500.0, cloth)
        bodies = [_Body(mesh=p.mesh, surface=p.surface, part=k) for k, p in enumerate(parts)]
        held = [(k, p.mesh, p.surface.core) for k, p in enumerate(parts)]
        bodies += [_Body(mesh=swirl(mesh, rng), surface=core, part=k) for k, mesh, core in held if core]
        bodies += [_Body(mesh=mesh, surface=of, part=-1) for mesh, of in _surroundings(view, rng)]
        groups = {body.group: [body] for body in _out_of_sight()}
        for body in bodies:
            groups[body.group].append(body)
        self.part_of_face = {
            name: np.repeat([b.part for b in group], [len(b.mesh.faces) for b in group])
            for name, group in groups.items()
        }
        scene |= {name: _shape(group, name=name, rng=rng) for name, group in groups.items()}
        up = [0.0, 1.0, 0.0]
        look = mi.ScalarTransform4f().look_at(origin=list(view.lens), target=list(view.target), up=up)
        scene["sensor"] = {
            "type": "perspective",
            "fov": 2 * view.half_view,
            "fov_axis": "x",
            "to_world": look,
            "film": {
                "type": "hdrfilm",
                "width": view.pixels[0],
                "height": view.pixels[1],
                "rfilter": {"type": "gaussian"},
            },
        }
        self.scene = mi.load_dict(scene)
        _keep_numbers_out(self.scene)

    def picture(self, samples: int, seed: int) -> NDArray[np.float32]:
        """Return the light that reaches the sensor, shape (H, W, 3), linear RGB."""
        image = np.array(mi.render(self.scene, spp=samples, seed=seed))[..., :3]
        return np.nan_to_num(np.minimum(image, _BRIGHTEST))

    def to_pixels(self, height: float = 0.0) -> Array:
        """Return the homography from world (x, y) at a height to pixels (integer = centre), shape (3, 3)."""
        at = np.array([(0.1, 0.1), (0.9, 0.1), (0.9, 0.9), (0.1, 0.9), (0.5, 0.5), (0.3, 0.7)])
        sample = mi.Point2f(at[:, 0].astype(np.float32), at[:, 1].astype(np.float32))
        ray, _ = self.scene.sensors()[0].sample_ray(0.0, 0.5, sample, mi.Point2f(0.5, 0.5))
        origin, way = np.array(ray.o).T.reshape(-1, 3), np.array(ray.d).T.reshape(-1, 3)
        world = (origin - way * ((origin[:, 2:] - height) / way[:, 2:]))[:, :2]
        pixels = at * self.view.pixels - 0.5
        rows = []
        for (x, y), (u, v) in zip(world, pixels, strict=True):
            rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y, -u])
            rows.append([0, 0, 0, x, y, 1, -v * x, -v * y, -v])
        return np.linalg.svd(np.array(rows))[2][-1].reshape(3, 3)

    def met(self, points: Array) -> NDArray[np.int64]:
        """Return which part a ray from the lens to each point (N, 3) meets first; -1: none of them."""
        lens = mi.Point3f(*self.view.lens)
        aim = mi.Point3f(*(points[:, k].astype(np.float32) for k in range(3)))
        ray = mi.Ray3f(o=lens, d=dr.normalize(aim - lens))
        found = self.scene.ray_intersect_preliminary(ray)
        number = np.array(dr.reinterpret_array(mi.UInt32, found.shape)).astype(np.int64)
        face = np.array(found.prim_index).astype(np.int64)
        out = np.full(len(points), -1, np.int64)
        known = np.array(dr.reinterpret_array(mi.UInt32, self.scene.shapes_dr()))
        for index, shape in zip(known, self.scene.shapes(), strict=True):
            if shape.id() in self.part_of_face:
                mine = number == index
                out[mine] = self.part_of_face[shape.id()][face[mine]]
        return out
