"""Five mechanical systems with one to four masses, integrated from Newton's equations.

Every kernel takes the parameters of one system as a record (units SI, names as in `families.py`), the number
of integration steps for each sample, and an array ``(channels + 2 · masses, n)`` to fill: the channels, then
positions, then velocities. The masses are advanced by the semi-implicit Euler method. Laws are textbook laws;
their combination is invented here.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from correlate.compiling import compiled

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SAMPLE_S: Final = 1e-4
GRAVITY: Final = 9.81


@compiled
def closed(travel: float, smoothing: float) -> float:
    """Return how far a contact is closed: zero, then ``travel``; between them a parabola."""
    if travel <= -smoothing:
        return 0.0
    if travel >= smoothing:
        return travel
    return (travel + smoothing) ** 2 / (4.0 * smoothing)


@compiled
def power(travel: float, stiffness: float, exponent: float, length: float) -> float:
    """Return the force of a hardening spring that has its secant stiffness at ``length``; it never pulls."""
    return stiffness * travel * (travel / length) ** (exponent - 1.0) if travel > 0.0 else 0.0


@compiled
def foam(  # noqa: PLR0917 - compiled functions take positional arguments only
    travel: float, stiffness: float, exponent: float, thickness: float, onset: float, steepness: float
) -> float:
    """Return the force of a foam that densifies from the strain ``onset``."""
    if travel <= 0.0:
        return 0.0
    strain = travel / thickness
    relative: float = strain**exponent + onset / steepness * (strain / onset) ** steepness
    return stiffness * thickness * relative


@compiled
def kept(travel: float, largest: float, hysteresis: float, fade: float) -> float:
    """Return the share of a force that is left ``largest - travel`` below the largest compression so far."""
    if travel >= largest or largest <= 0.0:
        return 1.0
    return 1.0 - hysteresis * (1.0 - math.exp(-(largest - travel) / (fade * largest)))


@compiled
def chest(p: Any, substeps: int, curves: Floats) -> None:
    """Let an impactor hit a jacket and foam before a sternum, which ribs connect to a spine on a seat."""
    step = SAMPLE_S / substeps
    xi = xs = xp = vs = vp = foam_most = rib_most = 0.0
    vi = p.speed
    for sample in range(curves.shape[1]):
        for substep in range(substeps):
            covered = closed(xi - xs, p.smoothing)
            pressed = closed(xi - xs - p.foam_gap, p.smoothing)
            foam_most = max(foam_most, pressed)
            padding = foam(
                pressed, p.foam_stiffness, p.foam_exponent, p.foam_thickness, p.foam_onset, p.foam_steepness
            ) * kept(pressed, foam_most, p.foam_hysteresis, p.fade)
            outer = (p.jacket_stiffness * covered + padding) * max(0.0, 1.0 + p.foam_rate * (vi - vs))
            bent = xs - xp
            rib_most = max(rib_most, bent)
            ribs = power(bent, p.rib_stiffness, p.rib_exponent, 0.05) * kept(
                bent, rib_most, p.rib_hysteresis, p.fade
            )
            ribs += p.rib_stiffness * min(bent, 0.0) + p.rib_damping * (vs - vp)
            friction = p.seat_friction * math.tanh(vp / p.creep)
            acceleration = (ribs - friction) / p.spine_mass
            if substep == 0:
                curves[0, sample] = outer / p.impactor_mass
                curves[1, sample] = xs - xp
                curves[2, sample] = acceleration
                curves[3, sample], curves[4, sample], curves[5, sample] = xi, xs, xp
                curves[6, sample], curves[7, sample], curves[8, sample] = vi, vs, vp
            vi -= step * outer / p.impactor_mass
            vs += step * (outer - ribs) / p.sternum_mass
            vp += step * acceleration
            xi += step * vi
            xs += step * vs
            xp += step * vp


@compiled
def neck(p: Any, substeps: int, curves: Floats) -> None:
    """Stop a pendulum by a crushed block; its head goes on, held by a neck that bends and then stiffens."""
    step = SAMPLE_S / substeps
    x = angle = rate = crushed = bent_most = 0.0
    v = p.speed
    arm = p.head_mass * p.neck_length
    inertia = p.head_inertia + arm * p.neck_length
    for sample in range(curves.shape[1]):
        for substep in range(substeps):
            crushed = max(crushed, x)
            stop = power(x, p.stop_stiffness, p.stop_exponent, 0.05) * kept(x, crushed, 0.93, p.fade)
            size = abs(angle)
            bent = closed(size - p.neck_play, 0.1 * p.smoothing / 1e-3)
            bent_most = max(bent_most, bent)
            moment = foam(bent, p.neck_stiffness, p.neck_exponent, 1.0, p.neck_onset, p.neck_steepness)
            moment = moment * kept(bent, bent_most, p.neck_hysteresis, p.fade) + p.joint_stiffness * size
            moment += p.limit_stiffness * closed(size - p.limit_angle, 0.1 * p.smoothing / 1e-3)
            moment = math.copysign(moment, angle) + p.neck_damping * rate
            moment += p.joint_friction * math.tanh(rate / (20.0 * p.creep))
            sine, cosine = math.sin(angle), math.cos(angle)
            pushed = arm * sine * rate**2 - stop
            turned = -moment - arm * GRAVITY * sine
            whole, coupling = p.pendulum_mass + p.head_mass, arm * cosine
            determinant = whole * inertia - coupling**2
            base = (pushed * inertia - coupling * turned) / determinant
            swing = (whole * turned - coupling * pushed) / determinant
            shear = p.head_mass * base + coupling * swing - arm * sine * rate**2
            if substep == 0:
                curves[0, sample] = -base
                curves[1, sample] = angle
                curves[2, sample] = moment
                curves[3, sample] = -shear
                curves[4, sample], curves[5, sample] = x, angle
                curves[6, sample], curves[7, sample] = v, rate
            v += step * base
            rate += step * swing
            x += step * v
            angle += step * rate


@compiled
def sled(p: Any, substeps: int, curves: Floats) -> None:
    """Stop a sled by a given pulse; belts hold pelvis and, through a foam, chest; both return to the seat."""
    step = SAMPLE_S / substeps
    xp = xc = xb = vp = vc = vb = lap_most = belt_most = foam_most = 0.0
    for sample in range(curves.shape[1]):
        time = sample * SAMPLE_S
        pulse = 0.0
        if time < p.pulse_duration:
            pulse = 2.0 * p.speed / p.pulse_duration * math.sin(math.pi * time / p.pulse_duration) ** 2
        for substep in range(substeps):
            lap_travel = closed(xp - p.lap_slack, 3.0 * p.smoothing)
            lap_most = max(lap_most, lap_travel)
            lap = power(lap_travel, p.lap_stiffness, p.belt_exponent, 0.05)
            lap *= kept(lap_travel, lap_most, p.lap_hysteresis, p.fade)
            lap *= max(0.0, 1.0 + p.webbing_rate * vp)
            belt_travel = closed(xb - p.shoulder_slack, 3.0 * p.smoothing)
            belt_most = max(belt_most, belt_travel)
            belt = power(belt_travel, p.shoulder_stiffness, p.belt_exponent, 0.05)
            belt *= kept(belt_travel, belt_most, p.shoulder_hysteresis, p.fade)
            belt *= max(0.0, 1.0 + p.webbing_rate * vb)
            pressed = closed(xc - xb, p.smoothing)
            foam_most = max(foam_most, pressed)
            chest_foam = foam(
                pressed, p.foam_stiffness, p.foam_exponent, p.foam_thickness, p.foam_onset, p.foam_steepness
            ) * kept(pressed, foam_most, p.foam_hysteresis, p.fade)
            chest_foam *= max(0.0, 1.0 + p.foam_rate * (vc - vb))
            lumbar = p.lumbar_stiffness * (xc - xp) + p.lumbar_damping * (vc - vp)
            friction = p.seat_friction * math.tanh(vp / p.creep)
            backs = p.back_stiffness * closed(-xp, p.smoothing) * max(0.0, 1.0 - p.back_rate * vp)
            rests = p.back_stiffness * closed(-xc, p.smoothing) * max(0.0, 1.0 - p.back_rate * vc)
            pelvis = (backs + lumbar - lap - friction) / p.pelvis_mass
            chest_acceleration = (rests - chest_foam - lumbar) / p.thorax_mass
            if substep == 0:
                curves[0, sample] = pulse
                curves[1, sample] = -pelvis
                curves[2, sample] = -chest_acceleration
                curves[3, sample] = belt
                curves[4, sample] = xp
                curves[5, sample], curves[6, sample], curves[7, sample] = xp, xc, xb
                curves[8, sample], curves[9, sample], curves[10, sample] = vp, vc, vb
            vp += step * (pulse + pelvis)
            vc += step * (pulse + chest_acceleration)
            vb += step * (pulse + (chest_foam - belt - 20.0 * vb) / p.belt_mass)
            xp += step * vp
            xc += step * vc
            xb += step * vb
            # The slack webbing lies on the chest: it cannot be left behind by it or run ahead of it.
            if xb > xc:
                xb, vb = xc, vc


@compiled
def knee(p: Any, substeps: int, curves: Floats) -> None:
    """Let an impactor hit a knee pad; the femur carries its load to a thigh that a hip spring holds."""
    step = SAMPLE_S / substeps
    xi = xk = xt = vk = vt = pad_most = hip_most = 0.0
    vi = p.speed
    for sample in range(curves.shape[1]):
        for substep in range(substeps):
            covered = closed(xi - xk, p.smoothing)
            pressed = closed(xi - xk - p.pad_gap, p.smoothing)
            pad_most = max(pad_most, pressed)
            padding = foam(
                pressed, p.pad_stiffness, p.pad_exponent, p.pad_thickness, p.pad_onset, p.pad_steepness
            ) * kept(pressed, pad_most, p.pad_hysteresis, p.fade)
            outer = (p.cover_stiffness * covered + padding) * max(0.0, 1.0 + p.pad_rate * (vi - vk))
            femur = p.femur_stiffness * (xk - xt) + p.femur_damping * (vk - vt)
            hip_most = max(hip_most, xt)
            hip = power(xt, p.hip_stiffness, p.hip_exponent, 0.02) * kept(
                xt, hip_most, p.hip_hysteresis, p.fade
            )
            hip += p.hip_stiffness * min(xt, 0.0) + p.hip_damping * vt
            hip += p.bottom_stiffness * closed(xt - p.hip_play, 2.0 * p.smoothing)
            friction = p.thigh_friction * math.tanh(vt / p.creep)
            if substep == 0:
                curves[0, sample] = outer / p.impactor_mass
                curves[1, sample] = femur
                curves[2, sample] = xk
                curves[3, sample], curves[4, sample], curves[5, sample] = xi, xk, xt
                curves[6, sample], curves[7, sample], curves[8, sample] = vi, vk, vt
            vi -= step * outer / p.impactor_mass
            vk += step * (outer - femur) / p.knee_mass
            vt += step * (femur - hip - friction) / p.thigh_mass
            xi += step * vi
            xk += step * vk
            xt += step * vt


@compiled
def drop(p: Any, substeps: int, curves: Floats) -> None:
    """Drop a guided body with a skin and a loose organ inside onto a plate; it bounces."""
    step = SAMPLE_S / substeps
    x = u = skin_most = 0.0
    v = w = p.speed
    for sample in range(curves.shape[1]):
        for substep in range(substeps):
            covered = closed(x, p.smoothing)
            pressed = closed(x - p.cover_gap, p.smoothing)
            skin_most = max(skin_most, pressed)
            skin = foam(
                pressed, p.skin_stiffness, p.skin_exponent, p.skin_thickness, p.skin_onset, p.skin_steepness
            ) * kept(pressed, skin_most, p.skin_hysteresis, p.fade)
            plate = (p.cover_stiffness * covered + skin) * max(0.0, 1.0 + p.skin_rate * v)
            offset = u - x
            stop = p.wall_stiffness * closed(abs(offset) - p.organ_gap, p.smoothing)
            inner = p.organ_stiffness * offset + math.copysign(stop, offset) + p.organ_damping * (w - v)
            # The guide grips while the body is at the plate, fully from 2 mm of compression.
            friction = p.guide_friction * math.tanh(v / p.creep) * min(1.0, covered / 2e-3)
            felt = (plate - inner + friction) / p.body_mass
            if substep == 0:
                curves[0, sample] = felt
                curves[1, sample] = plate
                curves[2, sample] = max(x, 0.0)
                curves[3, sample], curves[4, sample] = x, u
                curves[5, sample], curves[6, sample] = v, w
            v += step * (GRAVITY - felt)
            w += step * (GRAVITY - inner / p.organ_mass)
            x += step * v
            u += step * w
