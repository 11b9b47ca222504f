"""Parts of the report page: its sections, its dress, the notebook that makes it, a new folder."""
