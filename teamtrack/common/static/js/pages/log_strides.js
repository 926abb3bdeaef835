// All that this page runs; served as one file.
import "../theme.js";
import "../once.js";
import "../undo.js";
import "../menu.js";
import "../phone.js";
import "../log_strides.js";
