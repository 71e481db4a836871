"""MediaPipe's pose solution as a backend.

The wheel carries the full weights only, and its own way to heavier ones is to download them
into the installed package. Here the solution's graph is loaded, the path of the weights in it
is replaced by ours, and the graph is run: nothing is ever written into the package.
"""

from __future__ import annotations

from pathlib import Path
from types import TracebackType
from typing import Any, Self

import mediapipe
import numpy as np
from mediapipe.framework import calculator_pb2
from mediapipe.python import solution_base
from mediapipe.python._framework_bindings import resource_util, validated_graph_config

from studio.model.arrays import Array
from studio.model.pose import LANDMARKS
from studio.progress import silenced
from studio.technique.backend import Person, Seen

_GRAPH = "mediapipe/modules/pose_landmark/pose_landmark_cpu.binarypb"
_FULL, _HEAVY = 1, 2
_FINDER = """
input_stream: "IMAGE:image"
output_stream: "DETECTIONS:pose_detections"
node {
  calculator: "PoseDetectionCpu"
  input_stream: "IMAGE:image"
  output_stream: "DETECTIONS:pose_detections"
}
"""


class MediaPipePose:
    """`PoseEstimator` on MediaPipe.

    Args:
        heavy: File of the heavy landmark weights; None = the full ones in the package.
        outline: Also give the silhouette.
    """

    def __init__(self, heavy: Path | None = None, *, outline: bool = True) -> None:
        self.source = f"mediapipe {mediapipe.__version__} {'heavy' if heavy else 'full'}"
        self._finder: Any = None
        with silenced():
            self._graph = solution_base.SolutionBase(
                graph_config=_graph_with(heavy),
                side_inputs={
                    "model_complexity": _HEAVY if heavy else _FULL,
                    # The solution's own smoothing looks back only and so lags behind a fast hand.
                    "smooth_landmarks": False,
                    "enable_segmentation": outline,
                    "smooth_segmentation": False,
                    "use_prev_landmarks": True,
                },
                outputs=["pose_landmarks", "pose_world_landmarks", "segmentation_mask"],
            )
            # Until the graph is idle its threads still print about themselves.
            self._graph.process({"image": np.zeros((64, 64, 3), np.uint8)})

    def people(self, image: Array) -> list[Person]:
        """Everybody whom the detector finds; its own score threshold is 0.5."""
        with silenced():
            if self._finder is None:
                self._finder = solution_base.SolutionBase(
                    graph_config=_FINDER, outputs=["pose_detections"]
                )
            found = self._finder.process(np.ascontiguousarray(image)).pose_detections or []
        height, width = image.shape[:2]
        people = []
        for one in found:
            # The detector's first two key points are the hip centre and a point on the circle
            # about it that holds the body (Bazarevsky et al. 2020, arXiv:2006.10204).
            points = [
                np.array([p.x * width, p.y * height]) for p in one.location_data.relative_keypoints
            ]
            radius = float(np.linalg.norm(points[1] - points[0]))
            people.append(Person(points[0], radius, float(one.score[0])))
        return people

    def follow(self, image: Array) -> Seen | None:
        """The athlete in the next picture; tracks from the last one."""
        with silenced():
            result = self._graph.process({"image": np.ascontiguousarray(image)})
        if not result.pose_landmarks:
            return None
        height, width = image.shape[:2]
        marks = result.pose_landmarks.landmark[: len(LANDMARKS)]
        world = result.pose_world_landmarks.landmark[: len(LANDMARKS)]
        return Seen(
            xy_px=np.array([(p.x * width, p.y * height) for p in marks], np.float32),
            score=np.array([p.visibility for p in marks], np.float32),
            world_m=np.array([(p.x, p.y, p.z) for p in world], np.float32),
            mask=result.segmentation_mask,
        )

    def forget(self) -> None:
        """Start over on the next picture: an empty one in between leaves nothing to track from."""
        with silenced():
            self._graph.process({"image": np.zeros((64, 64, 3), np.uint8)})

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        with silenced():
            self._graph.close()
            if self._finder is not None:
                self._finder.close()


def _graph_with(heavy: Path | None) -> Any:
    """The package's graph, expanded, with the heavy weights' path replaced."""
    root = Path(mediapipe.__file__).parents[1]
    resource_util.set_resource_dir(str(root))
    validated = validated_graph_config.ValidatedGraphConfig()
    validated.initialize(binary_graph_path=str(root / _GRAPH))
    config = calculator_pb2.CalculatorGraphConfig()
    config.ParseFromString(validated.binary_config)
    if heavy is not None:
        options = solution_base.CALCULATOR_TO_OPTIONS["ConstantSidePacketCalculator"].ext
        packets = [p for n in config.node if n.options.HasExtension(options)
                   for p in n.options.Extensions[options].packet]  # fmt: skip
        paths = [p for p in packets if p.string_value.endswith("pose_landmark_heavy.tflite")]
        if len(paths) != 1:
            raise RuntimeError("mediapipe's pose graph names no heavy weights to replace")
        paths[0].string_value = str(heavy.resolve())
    return config
