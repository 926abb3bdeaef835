"""Every benchmark one after the other: python -m tests.bench"""

import subprocess
import sys

BENCHMARKS = (
    "planner", "bench_pages", "bench_week", "bench_calendar", "bench_entries", "bench_phone", "bench_permissions",
    "bench_access_log", "bench_keeping", "bench_people", "bench_sign_in", "bench_serving",
)  # fmt: skip


def main() -> None:
    for name in BENCHMARKS:
        print(f"\n== {name}", flush=True)
        subprocess.run([sys.executable, "-m", f"tests.bench.{name}"], check=True)


if __name__ == "__main__":
    main()
