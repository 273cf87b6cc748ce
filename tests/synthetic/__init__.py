"""Films of a stick figure whose every repetition is known exactly.

For tests of any package: ``from synthetic.films import film`` gives a `PoseTrack` of one movement
with its true repetitions, breaks and pauses; ``from synthetic.figure import Camera, Posture`` and
``from synthetic.script import Script`` put other motion together. Lengths are in statures, from
Drillis and Contini's segment lengths; the athlete faces along y, z is up, x to the athlete's right.
"""
