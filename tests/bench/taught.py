"""Line formats taught by example: how many made-up ones are learnt, is a line read wrong?

Each is taught from nine of its lines and one look at the display; fourteen lines are then read.
"""

from tests.wire.teaching.made_up import wrong_lines

COUNT = 5000


def main() -> None:
    """Print how many were taught, and the wrong readings."""
    found = [wrong_lines(seed) for seed in range(COUNT)]
    wrong = [one for lines in found if lines for one in lines]
    taught = sum(lines is not None for lines in found)
    print(f"{COUNT} made-up formats: {taught} taught, {COUNT - taught} refused; ", end="")
    print(f"lines read wrong: {len(wrong)}")
    for line, value, right in wrong[:10]:
        print(f"  {line!r}: {value}, not {right}")
