"""The plain-file form of a job: a folder with `job.toml`, tables and drawings."""

from plumbmark.exchange.jobfolder.reader import read_job, read_job_files

__all__ = ["read_job", "read_job_files"]
