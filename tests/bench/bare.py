"""The yardstick: the loop that the pose library's documentation shows, on every frame.

    python -m tests.bench.bare FILM MODEL

OpenCV reads, colours are converted, MediaPipe's PoseLandmarker looks in video mode; one process.
"""

import sys

import cv2
import mediapipe as mp


def main() -> None:
    """Look at every frame of a film and print how many there were."""
    film, model = sys.argv[1:3]
    options = mp.tasks.vision.PoseLandmarkerOptions(
        base_options=mp.tasks.BaseOptions(model_asset_path=model),
        running_mode=mp.tasks.vision.RunningMode.VIDEO,
    )
    reader = cv2.VideoCapture(film)
    frames = 0
    with mp.tasks.vision.PoseLandmarker.create_from_options(options) as landmarker:
        while True:
            found, picture = reader.read()
            if not found:
                break
            colours = cv2.cvtColor(picture, cv2.COLOR_BGR2RGB)
            image = mp.Image(image_format=mp.ImageFormat.SRGB, data=colours)
            landmarker.detect_for_video(image, frames * 33)
            frames += 1
    print(frames)


if __name__ == "__main__":
    main()
