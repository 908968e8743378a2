// How a device comes to trust the page: the server draws all of it.
import "./common.js";
