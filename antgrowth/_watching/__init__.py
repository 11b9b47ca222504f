"""The watches of a colony's log: each looks for one kind of trouble."""
