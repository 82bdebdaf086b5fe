"""Tables as pandas DataFrames, for whoever has pandas."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from audiolevel.ground.errors import SettingError

if TYPE_CHECKING:
    import pandas as pd


def frame(
    columns: Mapping[str, Any] | Sequence[Mapping[str, Any]], index: Any = None
) -> "pd.DataFrame":
    """A pandas DataFrame of columns by name, or of rows.

    Raises
    ------
    SettingError
        pandas is not installed.
    """
    try:
        # only where a table is asked for: it is an extra
        import pandas as pd
    except ImportError as error:
        raise SettingError("to_frame needs the extra: pip install 'audiolevel[frames]'") from error
    return pd.DataFrame(columns, index=index)
