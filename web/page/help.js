// The server draws this page.
import "./common.js";
