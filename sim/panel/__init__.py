"""The bench panel: a page in a browser that shows a boat and lets one person work it. `server` serves it; the boat
moves in a process of its own (`engine`), which no page can hold up."""
