// One platform word per line; ring-types.test.ts demands which ring knows which.
void document;
void window;
void localStorage;
void fetch;
void console;
void setTimeout;
void process;
void Buffer;
void performance;
void crypto;
void TextDecoder;
void SharedArrayBuffer;
