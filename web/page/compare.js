// Batches side by side. The server draws them; this adds the shapes.
import "./common.js";
import { chips } from "./record.js";

chips();
