import subprocess
import sys

WHERE_MEMORY_COMES_FROM = """
import resource
from vision.image.memory import keep_freed
keep_freed()
def taken():
    before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
    bytearray(16_000_000)
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before
first, then = taken(), taken()
print(then < first / 10)
"""


def test_memory_of_an_array_is_there_for_the_next_one() -> None:
    # counted in pages that the system gives; other systems than Linux keep what they like
    done = subprocess.run(
        [sys.executable, "-c", WHERE_MEMORY_COMES_FROM], capture_output=True, text=True, check=True
    )
    assert done.stdout == "True\n" or sys.platform != "linux"
