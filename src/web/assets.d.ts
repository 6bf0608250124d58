// What the build makes of imports that are not TypeScript.
declare module '*.css';
declare module '*.ttf?url' {
  const url: string;
  export { url as default };
}
