"""Many buildings at once, from what their last fits said; nothing here fits or reads a log's rows."""
