// What a script finds in its own HTML is what it takes it for: the browser tests hold the two
// together. Everything else is checked.
interface ParentNode {
  querySelector(selectors: string): any;
  querySelectorAll(selectors: string): NodeListOf<any>;
}
interface EventTarget {
  id: any;
  name: any;
  value: any;
  files: any;
  checked: any;
  elements: any;
  selectedOptions: any;
}
interface Element {
  blur(): void;
  closest(selectors: string): any;
}
interface Window {
  webkitAudioContext: typeof AudioContext;
}
