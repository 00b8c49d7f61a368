"""How well Whisper hears people it knows nothing of, judged with the values as shipped.

    RUNNER_SPEECH_DATA=FOLDER [RUNNER_WHISPER_MODEL=FOLDER] python tests/bench/hearing_whisper.py

The rows of ``hearing_each``, hurried digits besides. Only speakers count on whom nothing was
chosen; ``--fitting`` reports on the others, which is what the values in
``runner/voice/whisper.py`` were chosen on. ``--limit N`` takes N of a kind.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

from hearing_each import Hearer, numbers, times_line, whisper_folder, words  # noqa: E402

import speech_data  # noqa: E402
from runner.voice.whisper import WhisperRecogniser  # noqa: E402
from spoken_numbers import HURRIED, PAUSES  # noqa: E402


def main() -> int:
    """Print the table; 2 where the recordings or the model are not there."""
    asked = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    asked.add_argument("--fitting", action="store_true")
    asked.add_argument("--limit", type=int, default=0)
    options = asked.parse_args()
    folder = speech_data.home()
    with tempfile.TemporaryDirectory() as name:
        model = whisper_folder(Path(name))
        if folder is None or model is None:
            missing = "RUNNER_SPEECH_DATA" if folder is None else "RUNNER_WHISPER_MODEL"
            print(f"{missing} names no folder: nothing is measured")
            return 2
        half = (
            "the speakers chosen on" if options.fitting else "speakers that nothing was chosen on"
        )
        print(f"Whisper, model {model.name}; speakers {half}")
        ears = Hearer([WhisperRecogniser(model)])
        for row in words("Whisper", ears, folder, options.limit, False, options.fitting):
            print(row, flush=True)
        for pauses in (PAUSES, HURRIED):
            given = (options.limit, False, pauses, options.fitting)
            for row in numbers("Whisper", lambda _: ears, folder, *given):
                print(row, flush=True)
        print(times_line("Whisper", ears.times))
    return 0


if __name__ == "__main__":
    sys.exit(main())
