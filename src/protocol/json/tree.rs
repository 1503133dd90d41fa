//! An object to be written, built path by path.

use std::fmt;

/// An object whose values are JSON texts or further objects, in the order they were put.
#[derive(Debug, Default)]
pub(super) struct Tree(Vec<(String, Node)>);

#[derive(Debug)]
enum Node {
    Text(String),
    Tree(Tree),
}

impl Tree {
    /// Puts a JSON text at a path; `None` if the path leads through or onto a text.
    pub(super) fn put(&mut self, path: &[String], text: String) -> Option<()> {
        let (name, rest) = path.split_first()?;
        let known = self.0.iter_mut().find(|(known, _)| known == name);
        match (known, rest.is_empty()) {
            (None, true) => self.0.push((name.clone(), Node::Text(text))),
            (None, false) => {
                let mut inner = Self::default();
                inner.put(rest, text)?;
                self.0.push((name.clone(), Node::Tree(inner)));
            }
            (Some((_, Node::Tree(inner))), false) => inner.put(rest, text)?,
            (Some(_), _) => return None,
        }
        Some(())
    }
}

impl fmt::Display for Tree {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("{")?;
        for (index, (name, node)) in self.0.iter().enumerate() {
            if index > 0 {
                f.write_str(",")?;
            }
            write!(f, "{}:", quoted(name))?;
            match node {
                Node::Text(text) => f.write_str(text)?,
                Node::Tree(tree) => tree.fmt(f)?,
            }
        }
        f.write_str("}")
    }
}

/// A text as JSON writes it.
pub(super) fn quoted(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}
