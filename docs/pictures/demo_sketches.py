"""The set-ups of the demo, drawn: what stands in the laboratory, and how both sides take it apart.

Masses are read from the code, so that a sketch cannot say another one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate.plots import LIGHT
from demo_pairs.laboratory.rigs.head import HEAD
from demo_pairs.laboratory.rigs.knee import KNEE_PARTS
from demo_pairs.laboratory.rigs.neck import Bodies
from demo_pairs.laboratory.rigs.seat import SEAT
from demo_pairs.laboratory.rigs.thorax import THORAX
from demo_pairs.solver.models import head, knee, neck, seat, thorax
from docs.pictures.demo_shapes import (
    BODY,
    CHAIN_LEFT,
    LINE,
    SOFT,
    STEEL,
    THIN,
    arrow,
    chain,
    floor,
    framed,
    label,
    sensor,
    text,
    wall,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from docs.pictures.demo_shapes import Joint, Node

LABORATORY_Y, MODEL_Y = 120, 272


def _both(
    laboratory: tuple[Sequence[Node], Sequence[Joint]], model: tuple[Sequence[Node], Sequence[Joint]]
) -> list[str]:
    return [
        *chain(LABORATORY_Y, "Laboratory", *laboratory, colour=LIGHT.test),
        *chain(MODEL_Y, "Model", *model, colour=LIGHT.model),
    ]


def head_drop() -> str:
    """Draw the head above the rigid plate."""
    height = f"{1e3 * HEAD.drop_height:g} mm"
    drawing = [
        (
            f'<g transform="rotate(125 150 122)"><path d="M202 108l18 14-14 10z" {SOFT}/>'
            f'<ellipse cx="150" cy="122" rx="60" ry="66" {SOFT}/>'
            f'<ellipse cx="150" cy="122" rx="50" ry="56" {BODY}/>'
            f'<path d="M128 176l-6 14h44l-2-12" {STEEL}/></g>'
        ),
        sensor(150, 122),
        text("ax, ay, az", 150, 108, anchor="middle"),
        arrow((238, 183), (238, 262), both=True),
        text(height, 230, 226, anchor="end"),
        f'<rect x="40" y="262" width="210" height="18" {STEEL}/>',
        floor(40, 280, 210),
        label("vinyl skin", (20, 160), (96, 140)),
        label("rigid plate", (20, 314), (100, 271)),
        arrow((60, 186), (60, 246)),
        text("falls", 70, 220),
    ]
    both = _both(
        ((f"head|{HEAD.mass:g} kg", ""), (("csmm", "skin:|Hunt, Crossley|+ two branches"),)),
        ((f"head|{head.MASS:g} kg", ""), (("cs", "thin layer|× rate factor"),)),
    )
    notes = [
        text("plane motion, rotation, friction on the plate,", CHAIN_LEFT + 180, 116),
        text("a sideways mode that gives ay a life of its own", CHAIN_LEFT + 180, 134),
        text("one line of motion, fixed tilt: ax, ay, az", CHAIN_LEFT + 180, 268),
        text("are one curve in three sizes", CHAIN_LEFT + 180, 286),
    ]
    return framed("Head drop", [*drawing, *both, *notes])


def neck_pendulum() -> str:
    """Draw the pendulum at the moment it meets the honeycomb."""
    bodies = Bodies()
    drawing = [
        floor(92, 62, 52, side=-1),
        f'<rect x="108" y="62" width="20" height="150" {STEEL}/><circle cx="118" cy="62" r="5" {BODY}/>',
        f'<rect x="128" y="166" width="58" height="30" {SOFT}/>',
        f'<path d="M140 166v30M152 166v30M164 166v30M176 166v30" {THIN}/>',
        wall(186, 156, 50),
        f'<path d="M111 212h14l2 38h-18z" {SOFT}/>',
        f'<path d="M109 222h18M108 232h19M108 242h19" {THIN}/>',
        (
            f'<path d="M96 250h42c16 6 22 20 20 36l8 10-9 2c-2 12-12 18-26 18h-17c-18-2-30-14-30-32 '
            f'0-16 4-28 12-34z" {BODY}/>'
        ),
        sensor(118, 181),
        sensor(118, 250),
        arrow((42, 181), (100, 181)),
        text("7.0 m/s or", 26, 158),
        text("6.1 m/s", 26, 172),
        arrow((254, 62), (254, 181), both=True),
        text(f"{1e3 * bodies.arm_sensor:g} mm", 246, 112, anchor="end"),
        label("honeycomb", (196, 226), (160, 190)),
        label("neck", (48, 230), (112, 228)),
        label("upper-neck load cell", (160, 262), (122, 250)),
        text("extension: the head", 174, 296),
        text("faces the other way", 174, 311),
    ]
    both = _both(
        (
            (
                "",
                f"pendulum|{bodies.arm_mass:g} kg",
                f"neck|{bodies.neck_mass:g} kg",
                f"head|{bodies.head_mass:g} kg",
            ),
            (
                ("csd", "honeycomb:|yields, does not|spring back"),
                ("sdfmm", "lower joint:|k₁φ + k₃φ³,|two branches"),
                ("sdfmm", "upper joint:|the same"),
            ),
        ),
        (
            ("base:|given|pulse", f"link|{neck.LINK_MASS:g} kg", f"head|{neck.HEAD_MASS:g} kg"),
            (("sd", "sinh spring,|loss factor"), ("sd", "the same")),
        ),
    )
    notes = [
        text("joints turn: springs and", 690, 116),
        text("dashpots are of moments", 690, 134),
        text("the base never turns and", 690, 268),
        text("does not feel the head", 690, 286),
    ]
    return framed("Neck pendulum, flexion and extension", [*drawing, *both, *notes])


def thorax_impact() -> str:
    """Draw the probe before the chest."""
    drawing = [
        floor(30, 62, 92, side=-1),
        f'<path d="M52 62v78M100 62v78" {THIN}/>',
        f'<rect x="30" y="140" width="92" height="44" rx="3" {STEEL}/>',
        arrow((40, 206), (108, 206)),
        text("6.71 m/s, or 4.3 m/s", 20, 228),
        f'<path d="M150 96c18-14 62-16 82-2 14 40 14 90 0 138-22 12-64 10-80-2-20-42-20-92-2-134z" {SOFT}/>',
        f'<path d="M160 106c16-10 46-12 60-2 12 36 12 80 0 118-16 8-46 8-58 0-18-36-18-80-2-116z" {BODY}/>',
        f'<path d="M216 98c12 44 12 94 0 138l-7-2c10-42 10-92 0-134z" {STEEL}/>',
        *(f'<path d="M153 {y}c20 12 52 12 72 0" {LINE}/>' for y in (128, 148, 168, 188)),
        f'<path d="M153 116c-6 30-6 62 1 92l6-1c-6-30-6-60-1-90z" {STEEL}/>',
        f'<ellipse cx="186" cy="66" rx="20" ry="25" {BODY}/>',
        floor(130, 250, 130),
        sensor(34, 162),
        sensor(152, 162),
        sensor(222, 112),
        label("jacket foam", (176, 282), (157, 226)),
        label("sternum", (84, 304), (156, 204)),
        label("spine", (250, 200), (220, 196)),
        text(f"{THORAX.probe_mass:g} kg", 76, 167, anchor="middle"),
    ]
    both = _both(
        (
            (
                f"probe|{THORAX.probe_mass:g} kg",
                f"sternum|{THORAX.sternum_mass:g} kg",
                f"spine|{THORAX.spine_mass:g} kg",
                f"upper|spine|{THORAX.upper_spine_mass:g} kg",
            ),
            (
                ("csm", "jacket foam,|one branch"),
                ("sdfmm", "ribs: stiffen, damp|more coming out,|two branches"),
                ("sd", "bending"),
            ),
        ),
        (
            (
                f"probe|{thorax.PROBE_MASS:g} kg",
                f"sternum|{thorax.STERNUM_MASS:g} kg",
                f"spine|{thorax.SPINE_MASS:g} kg",
            ),
            (("cs", "block of foam"), ("sd", "ribs: harden,|one dashpot")),
        ),
    )
    return framed("Thorax impact", [*drawing, *both])


def knee_impact() -> str:
    """Draw the probe before the knee."""
    drawing = [
        floor(20, 62, 84, side=-1),
        f'<path d="M40 62v82M84 62v82" {THIN}/>',
        f'<rect x="20" y="144" width="84" height="34" rx="3" {STEEL}/>',
        arrow((32, 200), (92, 200)),
        text(f"{knee.SPEED:g} m/s", 40, 222),
        f'<path d="M122 148c4-16 20-22 36-20l96 6v56l-84-2 8 84h-34l-8-78c-14-12-18-28-14-46z" {BODY}/>',
        f'<path d="M122 148c4-16 16-21 26-20-12 12-16 34-6 66-18-10-24-28-20-46z" {SOFT}/>',
        f'<rect x="188" y="146" width="20" height="32" {STEEL}/>',
        wall(254, 122, 80),
        sensor(24, 161),
        sensor(198, 162),
        text(f"{knee.PROBE_MASS:g} kg", 66, 166, anchor="middle"),
        label("femur load cell", (176, 96), (198, 150)),
        label("flesh pad", (112, 110), (134, 140)),
        label("fixture", (214, 236), (252, 198)),
    ]
    parts = KNEE_PARTS
    both = _both(
        (
            (
                f"probe|{parts.probe_mass:g} kg",
                f"knee|{parts.knee_mass:g} kg",
                f"thigh|{parts.thigh_mass:g} kg",
                "",
            ),
            (("csmm", "pad densifies,|two branches"), ("sd", "load cell"), ("sd", "fixture")),
        ),
        (
            (f"probe|{knee.PROBE_MASS:g} kg", f"knee|{knee.KNEE_MASS:g} kg", ""),
            (("cs", "elastic pad|× rate factor"), ("sd", "femur")),
        ),
    )
    note = text(f"the knee also rubs on its support ({parts.slide_friction:g} N)", CHAIN_LEFT + 368, 124)
    return framed("Knee impact", [*drawing, *both, note])


def seat_drop() -> str:
    """Draw the dummy on the falling carriage."""
    drawing = [
        f'<path d="M34 62v226M262 62v226" stroke="{LIGHT.edge}" stroke-width="4"/>',
        f'<rect x="34" y="230" width="228" height="22" {STEEL}/>',
        f'<path d="M118 268h60l8 20h-76z" {SOFT}/>',
        floor(34, 288, 228),
        f'<path d="M96 210h104v20h-10v-10h-84v10h-10zM196 210l14-100h8l-10 100z" {STEEL}/>',
        f'<rect x="98" y="192" width="98" height="18" rx="6" {SOFT}/>',
        f'<path d="M110 166c10-4 60-6 78-2 8 8 8 22 4 28h-84c-8-8-8-20 2-26z" {BODY}/>',
        f'<path d="M160 108c12-4 32-4 42 0 2 20-2 38-8 54h-32c-6-18-6-36-2-54z" {BODY}/>',
        f'<path d="M176 98h12v10h-12z" {SOFT}/>',
        f'<ellipse cx="181" cy="78" rx="17" ry="21" {BODY}/>',
        f'<path d="M110 172l-24 10 4 46h-16l-6-58 34-18z" {BODY}/>',
        sensor(181, 78), sensor(182, 103), sensor(182, 128), sensor(178, 161), sensor(166, 180),
        sensor(148, 220),
        arrow((246, 84), (246, 146)),
        label("head", (48, 76), (168, 76)),
        label("upper-neck load cell", (48, 98), (180, 103)),
        label("chest", (48, 122), (178, 128)),
        label("lumbar load cell", (48, 146), (174, 161)),
        label("cushion", (206, 186), (190, 200)),
        label("pulse shaper", (44, 276), (132, 278)),
    ]  # fmt: skip
    both = _both(
        (
            (
                "",
                f"carriage|{SEAT.carriage_mass:g} kg",
                f"pan|{SEAT.pan_mass:g} kg",
                f"pelvis|{SEAT.pelvis_mass:g} kg",
                f"chest|{SEAT.chest_mass:g} kg",
                f"head|{SEAT.head_mass:g} kg",
            ),
            (
                ("cs", "shaper with|rate effect"),
                ("sd", "frame"),
                ("csmm", "cushion foam,|two branches"),
                ("sdmm", "lumbar spine,|two branches"),
                ("sd", "neck"),
            ),
        ),
        (
            (
                "seat:|given|pulse",
                f"pelvis|{seat.PELVIS_MASS:g} kg",
                f"torso|{seat.TORSO_MASS:g} kg",
                f"head|{seat.HEAD_MASS:g} kg",
            ),
            (("csd", "cushion"), ("sd", "lumbar spine"), ("sd", "neck")),
        ),
    )
    note = text(f"the chest also rubs on the backrest ({SEAT.backrest_friction:g} N)", CHAIN_LEFT + 150, 70)
    return framed("Seat drop", [*drawing, *both, note])


SKETCHES: Final[dict[str, Callable[[], str]]] = {
    "head-drop": head_drop,
    "neck-pendulum": neck_pendulum,
    "thorax-impact": thorax_impact,
    "knee-impact": knee_impact,
    "seat-drop": seat_drop,
}
"""By name of the file, ``set-up-…svg``."""
