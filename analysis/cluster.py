"""Jobs on a cluster that is running already: a Dask scheduler and its workers.

Its workers must have this program, and see the store under the same path; of logs that were left
in place, these logs alone. They only read; all is written by the process that hands out the jobs.
"""

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError
from typing import Any

from analysis.workers import MAX_LOST, ClosedAtEnd, Job, Result
from ingest.errors import WorkerError

_ANSWER_S = 10


class Cluster(ClosedAtEnd):
    """Workers of a Dask cluster; to be used in a with statement.

    Parameters
    ----------
    address : str
        Of its scheduler, ``tcp://10.0.0.5:8786``.

    Raises
    ------
    WorkerError
        The library for it is not installed, no scheduler answers, or it has no workers.
    """

    def __init__(self, address: str) -> None:
        try:
            from distributed import Client
        except ImportError:
            raise WorkerError(
                "--cluster needs the extra of that name: pip install 'pumprounds[cluster]'."
            ) from None
        self.address = address
        try:
            self._client: Any = Client(address, timeout=_ANSWER_S, set_as_default=False)
        except (OSError, ValueError) as error:
            raise WorkerError(f"{address}: no scheduler answers there: {error}.") from error
        threads = self._client.nthreads()
        if not threads:
            self._client.close()
            raise WorkerError(f"{address}: the scheduler has no workers. Start some.")
        self.n = sum(threads.values())

    def close(self) -> None:
        """Leave the cluster, which goes on."""
        self._client.close()

    def map(self, work: Callable[[Job], Result], jobs: Sequence[Job]) -> Iterator[Result]:
        """Set off a job each; see `Workers`. What a lost worker was at is done by another."""
        futures = self._client.map(work, list(jobs), pure=False, retries=MAX_LOST)
        return self._results(futures)

    def _results(self, futures: list[Any]) -> Iterator[Any]:
        from distributed import KilledWorker

        for future in futures:
            try:
                result = future.result()
            except KilledWorker as error:
                raise WorkerError(
                    f"{self.address}: workers died over the same job: {error}"
                ) from error
            except (CancelledError, OSError) as error:
                raise WorkerError(
                    f"{self.address}: the scheduler is lost; what is stored stays. Run it again."
                ) from error
            future.release()
            yield result
