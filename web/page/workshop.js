// What is seldom wanted. The server draws it.
import "./common.js";
