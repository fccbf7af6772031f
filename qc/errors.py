"""Every refusal of the product.

    QcError
    +-- InputError         a file, cell or option that cannot be read as it stands
    |   +-- NumberError    text that is not one number
    |   +-- UnitError      a unit nobody knows, or one that does not fit the characteristic
    |   +-- TimeError      text that is not one point in time
    |   +-- FileError      a file that cannot be opened or is none of the kinds we read
    +-- QuestionError      a question that has no answer here: unknown name, contradicting filters
    +-- TooLittleData      an answer that needs more than there is
    +-- PostError          a mail server that refuses
    +-- StoreError         the store refuses
        +-- StoreMissing   no store at that place
        +-- StoreBusy      another program holds it
        +-- StoreDamaged   what is in it contradicts itself

The text of each says what is wrong and what to do about it. They are caught in three kinds of place only:
where files are taken in, at the top of the command line, in the view of a page.
"""


class QcError(Exception):
    """A refusal whose text is one sentence for a person and tells the cure."""


class InputError(QcError):
    """A file, cell or option that cannot be read as it stands."""


class NumberError(InputError):
    """Text that is not one number."""


class UnitError(InputError):
    """A unit nobody knows, or one that does not fit the characteristic."""


class TimeError(InputError):
    """Text that is not one point in time."""


class FileError(InputError):
    """A file that cannot be opened or is none of the kinds we read."""


class QuestionError(QcError):
    """A question that has no answer here."""


class TooLittleData(QcError):
    """An answer that needs more data than there is."""


class PostError(QcError):
    """A mail server that cannot be reached or refuses."""


class StoreError(QcError):
    """The store refuses."""


class StoreMissing(StoreError):
    """No store at that place."""


class StoreBusy(StoreError):
    """Another program holds the store."""


class StoreDamaged(StoreError):
    """What is in the store contradicts itself."""
