"""Signals of one athlete over one film."""

from dataclasses import dataclass

from vision.track import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Signals:
    """Evenly sampled, zero-phase filtered motion in statures of the athlete.

    Heights are measured upwards in the steadied picture from the floor line, the usual level of
    the feet; one unit is the athlete's stature as it appears in the picture. All arrays are (M,);
    NaN where the body part was not seen for longer than a short gap.

    Attributes
    ----------
    time_s
        Even grid on the film's clock.
    rate_hz
        Samples a second.
    stature_px
        Apparent body height in pixels.
    hip, shoulder, head, elbow, wrist, knee, ankle
        Heights.
    hip_x, ankle_x
        Positions along the picture, to the right.
    leg_share
        Distance from hip to ankle in the picture as a share of the longest seen: falls when the
        knee bends or the leg points at the camera.
    size
        Apparent size of the trunk, as a share of its median: rises as the athlete comes nearer.
    ankle_gap
        Height of one ankle above the other, without sign: rises with every step.
    wrist_higher, knee_lower
        Height of the higher of the two wrists, where one hand works alone, and of the lower of the
        two knees, as in a lunge.
    wrist_lead, knee_lead
        Height of the left wrist or knee above the right one: which side works.
    wrist_spread, ankle_spread
        Distance of the two wrists or ankles along the picture.
    wrist_seen
        How well the better seen wrist was seen, 0 to 1.
    observed
        True where the athlete was seen in that frame, not bridged.
    """

    time_s: FloatArray
    rate_hz: float
    stature_px: float
    hip: FloatArray
    shoulder: FloatArray
    head: FloatArray
    elbow: FloatArray
    wrist: FloatArray
    knee: FloatArray
    ankle: FloatArray
    hip_x: FloatArray
    ankle_x: FloatArray
    leg_share: FloatArray
    size: FloatArray
    ankle_gap: FloatArray
    wrist_higher: FloatArray
    knee_lower: FloatArray
    wrist_lead: FloatArray
    knee_lead: FloatArray
    wrist_spread: FloatArray
    ankle_spread: FloatArray
    wrist_seen: FloatArray
    observed: BoolArray
