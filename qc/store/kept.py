"""Answers kept for speed: worked out once, thrown away at will, never a fact of the shop."""

from collections.abc import Mapping

from sqlalchemy import select

from qc.errors import StoreError
from qc.store import tables
from qc.store.database import Database

Subjects = Mapping[str, str]


def recalled(database: Database, question: str, digests: Subjects) -> dict[str, str]:
    """Values kept for a question, by subject, where the digest of what goes in is still the same.

    Parameters
    ----------
    database : Database
    question : str
        Which answer, with the version of the code that works it out.
    digests : mapping
        Digest of the input of each subject.
    """
    t = tables.kept.c
    with database.reading() as connection:
        rows = connection.execute(select(t.subject, t.digest, t.value).where(t.question == question)).all()
    return {subject: value for subject, digest, value in rows if digests.get(subject) == digest}


def keep(database: Database, question: str, digests: Subjects, values: Subjects) -> bool:
    """Keep values for a question in place of those kept before; False where the store cannot be written.

    A store on a read-only disk, or one that another program holds, answers all the same, only slower.
    """
    t = tables.kept.c
    rows = [
        {"question": question, "subject": s, "digest": digests[s], "value": v} for s, v in values.items()
    ]
    try:
        with database.writing() as connection:
            gone = tables.kept.delete().where(t.question == question).where(t.subject.in_(list(values)))
            connection.execute(gone)
            older = t.question.startswith(question.split("@")[0] + "@", autoescape=True)
            connection.execute(tables.kept.delete().where(older).where(t.question != question))
            connection.execute(tables.kept.insert(), rows)
    except StoreError:  # speed is no reason to refuse an answer
        return False
    return True
