// How the record is checked by hand: nothing but text.
import "./common.js";
