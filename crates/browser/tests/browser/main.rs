//! The pages in a browser. `./test` builds these with all the rest and leaves them until last, by their module's name.

mod in_a_browser;
