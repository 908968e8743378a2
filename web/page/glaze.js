// The server draws all of this page.
import "./common.js";
