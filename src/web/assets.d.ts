// What the build makes of imports that are not TypeScript.
declare module '*.css';
