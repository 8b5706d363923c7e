"""Looks for bytes that no door can take: ``python -m tests.trust.fuzz [SECONDS [TARGET ...]]``.

The seconds are shared out between the targets. Atheris (extra ``fuzz``) turns inputs that reach new
code over and over, each target in a process of its own. A find ends its target with a traceback;
its bytes are kept, and then belong among the regression tests of ``test_fuzz.py``.
"""

import resource
import subprocess
import sys
import tempfile
from pathlib import Path

MOST_BYTES = {
    "run_file": 200_000,
    "export": 100_000,
    "csv_folder": 60_000,
    "parquet_folder": 40_000,
    "csv": 4_000,
    "large_csv": 4_000,
    "framing": 2_000,
    "quantity": 60,
}
USUAL_BYTES = 20_000
KEPT = Path(tempfile.gettempdir()) / "bainlog-fuzz"


def one(name: str, seconds: int) -> None:
    """Fuzz one target in this process; does not return."""
    import atheris

    with atheris.instrument_imports(include=["logger"]):
        from tests.trust import doors
    KEPT.mkdir(exist_ok=True)
    corpus = KEPT / f"{name}-corpus"
    corpus.mkdir(exist_ok=True)
    for place, data in enumerate(doors.seeds()[name]):
        (corpus / f"seed{place}").write_bytes(data)
    atheris.Setup(
        [
            sys.argv[0], f"-max_total_time={seconds}", "-timeout=20", "-rss_limit_mb=2000",
            f"-max_len={MOST_BYTES.get(name, USUAL_BYTES)}", f"-artifact_prefix={KEPT}/{name}-",
            "-print_final_stats=1", str(corpus),
        ],
        lambda data: doors.tried(name, data) and None,
    )  # fmt: skip
    atheris.Fuzz()


def main() -> None:
    """Fuzz each target for its share of the time; end with 1 after a find."""
    try:
        import atheris  # noqa: F401 - only to say so when it is missing
    except ImportError:
        sys.exit("not run: atheris is not installed ('pip install -e .[fuzz]'; Linux and macOS)")
    if len(sys.argv) == 4 and sys.argv[3] == "--here":
        one(sys.argv[2], int(sys.argv[1]))
    from tests.trust.doors import TARGETS

    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 300.0
    names = sys.argv[2:] or list(TARGETS)
    found, before_s = [], 0.0
    for name in names:
        share = str(max(5, int(seconds / len(names))))
        done = subprocess.run(
            [sys.executable, "-m", "tests.trust.fuzz", share, name, "--here"],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        used = resource.getrusage(resource.RUSAGE_CHILDREN)
        cpu_s, before_s = used.ru_utime + used.ru_stime - before_s, used.ru_utime + used.ru_stime
        tail = done.stderr.splitlines()
        stats = [line for line in tail if line.startswith(("stat::number_of", "Done"))]
        count = stats[0] if stats else "no count"
        print(f"{name}: {share} s, {cpu_s:.0f} s of processor time, {count}", flush=True)
        if done.returncode:
            found.append(name)
            print("\n".join([*done.stdout.splitlines()[-40:], *tail[-40:]]), flush=True)
    print("nothing found" if not found else f"found in {', '.join(found)}; bytes in {KEPT}")
    sys.exit(bool(found))


if __name__ == "__main__":
    main()
